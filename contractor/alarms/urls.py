"""Addresses of the alarms area."""

from django.urls import path

from contractor.alarms import views

app_name = "alarms"
urlpatterns = [path("buildings/<uuid:building_id>/alarms/", views.alarms, name="list")]
