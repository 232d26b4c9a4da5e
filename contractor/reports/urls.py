"""Addresses of the reports area."""

from django.urls import path

from contractor.reports import views

app_name = "reports"
urlpatterns = [
    path("reports/", views.reports, name="list"),
    path("reports/records/<uuid:record_id>/", views.record, name="record"),
    path("reports/records/<uuid:record_id>/render", views.render_again, name="render"),
    path("reports/signing/", views.signing_key, name="signing"),
    path("reports/signing/generate", views.use_generated, name="generate_key"),
    path("reports/<uuid:report_id>/pdf", views.pdf, name="pdf"),
    path("buildings/<uuid:building_id>/outlook/", views.outlook, name="outlook"),
    path("outlooks/<uuid:outlook_id>/pdf", views.outlook_pdf, name="outlook_pdf"),
    path("buildings/<uuid:building_id>/hand-over/", views.hand_over, name="hand_over"),
    path(
        "buildings/<uuid:building_id>/hand-over/<uuid:bundle_id>/zip", views.bundle, name="bundle"
    ),
]
