"""Addresses of the scheduling screens."""

from django.urls import URLPattern, URLResolver, path

from scheduling.screens import board, events, raise_task, report, tasks

app_name = "scheduling"

urlpatterns: list[URLPattern | URLResolver] = [
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
]
