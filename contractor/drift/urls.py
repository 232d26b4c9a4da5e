"""Addresses of the drift area. The device's page is named register:device in contractor/urls.py."""

from django.urls import path

from contractor.drift import views

app_name = "drift"
urlpatterns = [path("drift/", views.fleet, name="fleet")]
