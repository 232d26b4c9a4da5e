"""Addresses of the schedule area. The building's page is named register:building in urls.py."""

from django.urls import path

from contractor.schedule.views import ahead, doing, due, start

app_name = "schedule"
urlpatterns = [
    path("", start.todo, name="todo"),
    path("doing/", doing.how, name="doing"),
    path("due/", due.falling, name="due"),
    path("due/rows.csv", due.rows, name="due_rows"),
    path("due/<uuid:due_id>/", due.why, name="why"),
    path("buildings/<uuid:building_id>/calendar/", ahead.calendar, name="calendar"),
]
