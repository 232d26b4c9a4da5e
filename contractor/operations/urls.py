"""Addresses of the health page, under a firm's address."""

from django.urls import path

from contractor.operations import views

app_name = "operations"
urlpatterns = [path("health/", views.health, name="health")]
