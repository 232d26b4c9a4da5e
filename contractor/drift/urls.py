"""Addresses of the drift area. The device's page is named register:device in contractor/urls.py."""

from django.urls import path

from contractor.drift import views

app_name = "drift"
urlpatterns = [
    path("drift/", views.fleet, name="fleet"),
    path("drift/detectors.csv", views.export, name="export"),
    path("drift/accuracy/", views.accuracy, name="accuracy"),
    path("drift/accuracy/look-back/", views.look_back, name="look_back"),
    path("drift/policy/", views.policy, name="policy"),
    path("drift/questions/<uuid:question_id>/", views.answer, name="answer"),
    path("buildings/<uuid:building_id>/drift/", views.building, name="building"),
    path("buildings/<uuid:building_id>/drift/cleaning/", views.cleaning, name="cleaning"),
    path(
        "buildings/<uuid:building_id>/drift/cleaning.csv",
        views.cleaning_export,
        name="cleaning_export",
    ),
]
