"""Addresses of the demo area."""

from django.urls import path

from contractor.demo import views

app_name = "demo"
urlpatterns = [path("invented/remove/", views.remove, name="remove")]
