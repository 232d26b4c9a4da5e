"""Addresses of the readings area."""

from django.urls import path

from contractor.readings import api, views

app_name = "readings"
urlpatterns = [
    path("buildings/<uuid:building_id>/take-in/", views.take_in, name="take_in"),
    path("systems/<uuid:system_id>/by-itself/", views.by_itself, name="by_itself"),
    path("systems/<uuid:system_id>/secret/", views.make_secret, name="make_secret"),
    path("systems/<uuid:system_id>/secret/revoke/", views.revoke_secret, name="revoke_secret"),
    path("api/systems/<uuid:system_id>/print-outs/", api.SystemIntakes.as_view(), name="api"),
    path("print-outs/<uuid:intake_id>/", views.intake, name="intake"),
    path("print-outs/<uuid:intake_id>/meanings/", views.meanings, name="meanings"),
    path("print-outs/<uuid:intake_id>/rows/<uuid:row_id>/", views.row, name="row"),
    path("print-outs/<uuid:intake_id>/accept/", views.accept, name="accept"),
    path("print-outs/<uuid:intake_id>/aside/", views.put_aside, name="put_aside"),
    path("print-outs/<uuid:intake_id>/undo/", views.undo, name="undo"),
    path("print-outs/<uuid:intake_id>/problems.csv", views.problems, name="problems"),
    path("print-outs/<uuid:intake_id>/original/", views.original, name="original"),
]
