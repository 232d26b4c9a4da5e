"""Addresses of the labels area; the address in a printed code lies outside of it, under /D/."""

from django.urls import path

from contractor.labels import views

app_name = "labels"
_LABEL = "labels/<uuid:label_id>/"
_RUN = "labels/runs/<uuid:run_id>/"
urlpatterns = [
    path("labels/", views.firm, name="firm"),
    path("buildings/<uuid:building_id>/labels/", views.building, name="building"),
    path("buildings/<uuid:building_id>/labels/print/", views.print_labels, name="print"),
    path("labels/print/", views.print_empty, name="print_empty"),
    path(_RUN, views.run, name="run"),
    path(f"{_RUN}labels.pdf", views.pdf, name="pdf"),
    path(f"{_RUN}again/", views.again, name="again"),
    path(_LABEL, views.label, name="label"),
    path(f"{_LABEL}off/", views.take_off, name="take_off"),
    path(f"{_LABEL}retire/", views.retire, name="retire"),
    path(f"{_LABEL}settle/<uuid:device_id>/", views.settle, name="settle"),
    path("devices/<uuid:device_id>/labels/", views.device, name="device"),
]
