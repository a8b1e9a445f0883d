"""Addresses of the scheduling screens."""

from django.urls import URLPattern, URLResolver, include, path

from scheduling.screens import (
    board,
    events,
    procedure_editor,
    procedures,
    raise_task,
    report,
    rule_editor,
    rules,
    tasks,
)

app_name = "scheduling"

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("scheduling.screens.due_urls")),
    path("", include("scheduling.screens.plan_urls")),
    path("", board.BoardScreen.as_view(), name="board"),
    path("in-the-way/", board.OwedScreen.as_view(), name="owed"),
    path("tasks/", tasks.TaskListScreen.as_view(), name="tasks"),
    path("tasks/new/", raise_task.RaiseTaskScreen.as_view(), name="raise-task"),
    path("tasks/give/", tasks.GiveTasks.as_view(), name="give-tasks"),
    path("tasks/withdraw/", tasks.WithdrawTasks.as_view(), name="withdraw-tasks"),
    path("events/", events.EventListScreen.as_view(), name="events"),
    path("events/new/", report.ReportScreen.as_view(), name="report-event"),
    path("events/<int:event_id>/", events.EventScreen.as_view(), name="event"),
    path("events/<int:event_id>/photo/", events.EventPhoto.as_view(), name="event-photo"),
    path("event-kinds/", rules.KindScreen.as_view(), name="event-kinds"),
    path("event-kinds/<slug:code>/retire/", rules.RetireKind.as_view(), name="event-kind-retire"),
    path("rules/", rules.RuleListScreen.as_view(), name="rules"),
    path("rules/try/", rules.DryRunScreen.as_view(), name="dry-run"),
    path("rules/new/", rule_editor.RuleEditor.as_view(), name="rule-new"),
    path("rules/<slug:code>/", rules.RuleScreen.as_view(), name="rule"),
    path("rules/<slug:code>/edit/", rule_editor.RuleEditor.as_view(), name="rule-edit"),
    path("rules/<slug:code>/on/", rules.RuleSwitch.as_view(), name="rule-on"),
    path("rules/<slug:code>/off/", rules.RuleSwitch.as_view(enabled=False), name="rule-off"),
    path("procedures/", procedures.ProcedureListScreen.as_view(), name="procedures"),
    path("procedures/new/", procedure_editor.ProcedureEditor.as_view(), name="procedure-new"),
    path("procedures/<slug:code>/", procedures.ProcedureScreen.as_view(), name="procedure"),
    path(
        "procedures/<slug:code>/versions/<int:number>/",
        procedures.ProcedureScreen.as_view(),
        name="procedure-version",
    ),
    path("procedures/<slug:code>/edit/", procedure_editor.ProcedureEditor.as_view(), name="procedure-edit"),
    path("procedures/<slug:code>/publish/", procedures.PublishProcedure.as_view(), name="procedure-publish"),
    path("procedures/<slug:code>/discard/", procedures.DiscardDraft.as_view(), name="procedure-discard"),
    path(
        "procedures/<slug:code>/withdraw/", procedures.WithdrawProcedure.as_view(), name="procedure-withdraw"
    ),
]
