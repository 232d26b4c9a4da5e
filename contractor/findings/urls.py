"""Addresses of the findings area."""

from django.urls import path

from contractor.findings import views

app_name = "findings"
urlpatterns = [
    path("findings/", views.findings, name="list"),
    path("findings/<uuid:finding_id>/", views.finding, name="finding"),
    path("findings/<uuid:finding_id>/correct/", views.correct, name="correct"),
    path("findings/<uuid:finding_id>/told/", views.tell_owner, name="tell_owner"),
    path("buildings/<uuid:building_id>/findings/new/", views.open_finding, name="open"),
]
