"""Addresses of the schedule area. The building's page is named register:building in urls.py."""

from django.urls import path

from contractor.schedule import views

app_name = "schedule"
urlpatterns = [path("", views.todo, name="todo")]
