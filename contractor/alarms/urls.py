"""Addresses of the alarms area."""

from django.urls import path

from contractor.alarms import views

app_name = "alarms"
urlpatterns = [
    path("buildings/<uuid:building_id>/alarms/", views.alarms, name="list"),
    path("buildings/<uuid:building_id>/alarms/none/", views.none, name="none"),
    path("alarms/<uuid:alarm_id>/", views.entry, name="entry"),
    path("alarms/none/<uuid:statement_id>/withdraw/", views.withdraw_none, name="withdraw_none"),
]
