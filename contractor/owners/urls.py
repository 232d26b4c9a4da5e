"""Addresses of the owners area."""

from django.urls import path

from contractor.owners import giving_views, views

app_name = "owners"
urlpatterns = [
    path("", views.start, name="start"),
    path("help/", views.guide, name="help"),
    path("buildings/<uuid:building_id>/", views.building, name="building"),
    path("buildings/<uuid:building_id>/alarms/", views.write_alarm, name="alarm"),
    path("buildings/<uuid:building_id>/alarms/none/", views.say_none, name="none"),
    path("buildings/<uuid:building_id>/links/", giving_views.links, name="links"),
    path("buildings/<uuid:building_id>/everything/", giving_views.everything, name="everything"),
    path(
        "buildings/<uuid:building_id>/everything/<uuid:bundle_id>/zip",
        giving_views.bundle,
        name="bundle",
    ),
    path("links/<uuid:link_id>/revoke", giving_views.revoke, name="revoke"),
    path("findings/<uuid:finding_id>/", giving_views.decide, name="decide"),
    path("buildings/<uuid:building_id>/outlook/", giving_views.outlook, name="outlook"),
    path("outlooks/<uuid:outlook_id>/pdf", giving_views.outlook_pdf, name="outlook_pdf"),
    path("reports/<uuid:report_id>/pdf", views.pdf, name="pdf"),
]
