from django.urls import URLPattern, URLResolver, include, path

from scheduling.api import board_views as board
from scheduling.api import events_views as events
from scheduling.api import procedures_views as procedures
from scheduling.api import rules_views as rules
from scheduling.api import tasks_views as tasks

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("scheduling.api.due_urls")),
    path("", include("scheduling.api.plan_urls")),
    path("board/", board.BoardView.as_view()),
    path("board/owed/", board.OwedView.as_view()),
    path("aircraft/<str:registration>/status/", board.AircraftStatusView.as_view()),
    path("events/", events.EventListView.as_view()),
    path("events/<int:event_id>/", events.EventView.as_view()),
    path("event-kinds/", events.EventKindListView.as_view()),
    path("event-kinds/<slug:code>/retire/", events.EventKindRetireView.as_view()),
    path("rules/", rules.RuleListView.as_view()),
    path("rules/dry-run/", rules.RuleDryRunView.as_view()),
    path("rules/<slug:code>/", rules.RuleView.as_view()),
    path("rules/<slug:code>/versions/", rules.RuleVersionsView.as_view()),
    path("rules/<slug:code>/enable/", rules.RuleEnableView.as_view()),
    path("rules/<slug:code>/disable/", rules.RuleDisableView.as_view()),
    path("tasks/", tasks.TaskListView.as_view()),
    path("tasks/<int:task_id>/", tasks.TaskView.as_view()),
    path("tasks/<int:task_id>/start/", tasks.TaskStartView.as_view()),
    path("tasks/<int:task_id>/withdraw/", tasks.TaskWithdrawView.as_view()),
    path("procedures/", procedures.ProcedureListView.as_view()),
    path("procedures/<slug:code>/", procedures.ProcedureView.as_view()),
    path("procedures/<slug:code>/draft/", procedures.ProcedureDraftView.as_view()),
    path("procedures/<slug:code>/publish/", procedures.ProcedurePublishView.as_view()),
    path("procedures/<slug:code>/withdraw/", procedures.ProcedureWithdrawView.as_view()),
    path("procedures/<slug:code>/versions/<int:number>/", procedures.ProcedureVersionView.as_view()),
]
