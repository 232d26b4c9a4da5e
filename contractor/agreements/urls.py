"""Addresses of the agreements area."""

from django.urls import path

from contractor.agreements import views

app_name = "agreements"
urlpatterns = [
    path("agreements/", views.agreements, name="list"),
    path("agreements/<uuid:agreement_id>/", views.agreement, name="agreement"),
    path("agreements/<uuid:agreement_id>/change/", views.change, name="change"),
    path("customers/<uuid:customer_id>/agreements/new/", views.add, name="add"),
]
