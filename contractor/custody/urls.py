"""Addresses of the custody area."""

from django.urls import path

from contractor.custody import views

app_name = "custody"
urlpatterns = [
    path("exports/", views.exports, name="exports"),
    path("exports/<uuid:export_id>/zip", views.export_file, name="export_file"),
]
