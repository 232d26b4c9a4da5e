"""Addresses of tokens and hooks."""

from django.urls import path

from contractor.programs import views

app_name = "programs"
urlpatterns = [
    path("programs/", views.programs, name="programs"),
    path("programs/tokens/<uuid:token_id>/revoke/", views.revoke, name="revoke"),
    path("programs/hooks/", views.add_hook, name="add_hook"),
    path("programs/hooks/<uuid:hook_id>/", views.hook, name="hook"),
    path("programs/hooks/<uuid:hook_id>/end/", views.end_hook, name="end_hook"),
    path("programs/deliveries/<uuid:delivery_id>/replay/", views.replay, name="replay"),
]
