"""Addresses of the power area."""

from django.urls import path

from contractor.power import views

app_name = "power"
urlpatterns = [
    path("batteries/", views.firm, name="firm"),
    path("batteries/tests/<uuid:test_id>/withdraw/", views.withdraw, name="withdraw"),
    path("buildings/<uuid:building_id>/batteries/", views.sets, name="list"),
    path("devices/<uuid:device_id>/battery/", views.battery, name="battery"),
    path("devices/<uuid:device_id>/battery/describe/", views.describe, name="describe"),
    path("devices/<uuid:device_id>/battery/test/", views.record, name="record"),
]
