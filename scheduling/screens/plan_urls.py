"""Addresses of the week plan, the reminders and the calendar feed."""

from django.urls import URLPattern, URLResolver, path

from scheduling.screens import calendar_feed

urlpatterns: list[URLPattern | URLResolver] = [
    path("calendar/<str:key>.ics", calendar_feed.CalendarFeed.as_view(), name="calendar-feed"),
]
