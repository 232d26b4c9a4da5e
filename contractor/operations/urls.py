"""Addresses of health and audit trail, under a firm's address."""

from django.urls import path

from contractor.operations import views

app_name = "operations"
urlpatterns = [
    path("health/", views.health, name="health"),
    path("audit/", views.audit, name="audit"),
]
