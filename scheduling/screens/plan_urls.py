"""Addresses of the week plan, the reminders and the calendar feed."""

from django.urls import URLPattern, URLResolver, path

from scheduling.screens import calendar_feed, reminders, week, week_places

urlpatterns: list[URLPattern | URLResolver] = [
    path("week/", week.WeekScreen.as_view(), name="week"),
    path("week/ask/", week.AskForWeek.as_view(), name="week-ask"),
    path("week/draft/", week.OpenDraft.as_view(), name="week-draft"),
    path("week/<int:plan>/progress/", week.WeekProgress.as_view(), name="week-progress"),
    path("week/<int:plan>/publish/", week.PublishWeek.as_view(), name="week-publish"),
    path("week/<int:plan>/discard/", week.DiscardDraft.as_view(), name="week-discard"),
    path("week/<int:plan>/move/", week.MoveSlot.as_view(), name="week-move"),
    path("week/<int:plan>/unpin/", week.UnpinSlot.as_view(), name="week-unpin"),
    path("week/<int:plan>/take-out/", week.TakeOut.as_view(), name="week-take-out"),
    path("week/bays/", week_places.BayScreen.as_view(), name="bays"),
    path("week/bays/<int:bay>/close/", week_places.CloseBay.as_view(), name="bay-close"),
    path("week/shifts/", week_places.ShiftScreen.as_view(), name="shifts"),
    path("week/shifts/<int:shift>/remove/", week_places.RemoveShift.as_view(), name="shift-remove"),
    path("week/ground-times/", week_places.GroundScreen.as_view(), name="ground-times"),
    path(
        "week/ground-times/<int:ground>/remove/", week_places.RemoveGroundTime.as_view(), name="ground-remove"
    ),
    path("reminders/", reminders.RemindersScreen.as_view(), name="reminders"),
    path("reminders/", reminders.RemindersScreen.as_view(), name="inbox"),
    path("reminders/acknowledge/", reminders.AcknowledgeReminders.as_view(), name="reminders-acknowledge"),
    path("reminders/<int:reminder>/put-off/", reminders.SnoozeReminder.as_view(), name="reminder-put-off"),
    path("reminders/settings/", reminders.ReminderSettings.as_view(), name="reminder-settings"),
    path("reminders/steps/<slug:consequence>/", reminders.LadderScreen.as_view(), name="reminder-ladder"),
    path("reminders/calendars/", reminders.CalendarLinks.as_view(), name="calendar-links"),
    path(
        "reminders/calendars/<int:calendar>/end/",
        reminders.RevokeCalendarLink.as_view(),
        name="calendar-revoke",
    ),
    path("reminders/webhooks/", reminders.Webhooks.as_view(), name="webhooks"),
    path("reminders/webhooks/<int:endpoint>/try/", reminders.TryWebhook.as_view(), name="webhook-try"),
    path("reminders/webhooks/<int:endpoint>/on/", reminders.SwitchWebhook.as_view(), name="webhook-on"),
    path(
        "reminders/webhooks/<int:endpoint>/off/",
        reminders.SwitchWebhook.as_view(enabled=False),
        name="webhook-off",
    ),
    path(
        "reminders/webhooks/<int:endpoint>/remove/", reminders.RemoveWebhook.as_view(), name="webhook-remove"
    ),
    path("calendar/<str:key>.ics", calendar_feed.CalendarFeed.as_view(), name="calendar-feed"),
]
