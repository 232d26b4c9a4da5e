"""Addresses of the custody area."""

from django.urls import path

from contractor.custody import views

app_name = "custody"
urlpatterns = [
    path("kept/", views.kept, name="kept"),
    path("kept/longer", views.lengthen, name="lengthen"),
    path("kept/holds", views.hold, name="hold"),
    path("kept/holds/<uuid:hold_id>/end", views.end_hold, name="end_hold"),
    path("kept/records/<uuid:record_id>/remove", views.remove, name="remove"),
    path("exports/", views.exports, name="exports"),
    path("exports/<uuid:export_id>/zip", views.export_file, name="export_file"),
]
