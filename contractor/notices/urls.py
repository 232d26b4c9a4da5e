"""Addresses of the notices area."""

from django.urls import path

from contractor.notices import views

app_name = "notices"
urlpatterns = [
    path("notices/", views.notices, name="list"),
    path("notices/wanted/", views.wanted, name="wanted"),
    path("notices/returned/<uuid:bounce_id>/clear/", views.clear, name="clear"),
    path("notices/<uuid:notice_id>/", views.notice, name="notice"),
]
