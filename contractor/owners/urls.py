"""Addresses of the owners area."""

from django.urls import path

from contractor.owners import views

app_name = "owners"
urlpatterns = [
    path("", views.start, name="start"),
    path("buildings/<uuid:building_id>/", views.building, name="building"),
    path("buildings/<uuid:building_id>/alarms/", views.write_alarm, name="alarm"),
    path("buildings/<uuid:building_id>/alarms/none/", views.say_none, name="none"),
    path("reports/<uuid:report_id>/pdf", views.pdf, name="pdf"),
]
