"""Addresses of week plans, places, reminders, calendar links and webhook endpoints."""

from django.urls import URLPattern, URLResolver, path

from scheduling.api import plan_reminder_views as reminders
from scheduling.api import plan_views as plans

urlpatterns: list[URLPattern | URLResolver] = [
    path("week-plans/", plans.WeekPlanListView.as_view()),
    path("week-plans/<int:plan_id>/", plans.WeekPlanView.as_view()),
    path("week-plans/<int:plan_id>/publish/", plans.WeekPublishView.as_view()),
    path("week-plans/<int:plan_id>/move/", plans.SlotMoveView.as_view()),
    path("week-plans/<int:plan_id>/unpin/", plans.SlotUnpinView.as_view()),
    path("week-plans/<int:plan_id>/take-out/", plans.SlotTakeOutView.as_view()),
    path("bays/", plans.BayListView.as_view()),
    path("bays/<int:bay_id>/close/", plans.BayCloseView.as_view()),
    path("shifts/", plans.ShiftListView.as_view()),
    path("shifts/<int:shift_id>/", plans.ShiftView.as_view()),
    path("ground-times/", plans.GroundTimeListView.as_view()),
    path("ground-times/<int:ground_time_id>/", plans.GroundTimeView.as_view()),
    path("reminders/", reminders.ReminderListView.as_view()),
    path("reminders/<int:reminder_id>/acknowledge/", reminders.ReminderAcknowledgeView.as_view()),
    path("reminders/<int:reminder_id>/snooze/", reminders.ReminderSnoozeView.as_view()),
    path("mail-choice/", reminders.MailChoiceView.as_view()),
    path("reminder-ladders/", reminders.LadderListView.as_view()),
    path("reminder-ladders/<slug:consequence>/", reminders.LadderView.as_view()),
    path("calendar-links/", reminders.CalendarLinkListView.as_view()),
    path("calendar-links/<int:link_id>/", reminders.CalendarLinkView.as_view()),
    path("webhook-endpoints/", reminders.EndpointListView.as_view()),
    path("webhook-endpoints/<int:endpoint_id>/", reminders.EndpointView.as_view()),
    path("webhook-endpoints/<int:endpoint_id>/switch/", reminders.EndpointSwitchView.as_view()),
    path("webhook-endpoints/<int:endpoint_id>/test/", reminders.EndpointTestView.as_view()),
]
