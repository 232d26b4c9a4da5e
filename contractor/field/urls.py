"""Addresses of the field area: the tablet's under /field/, the office's among the firm's pages."""

from django.urls import path

from contractor.field.views import office, shell, tablet

app_name = "field"
urlpatterns = [
    path("", shell.app, name="app"),
    path("sw.js", shell.worker, name="worker"),
    path("app.webmanifest", shell.manifest, name="manifest"),
    path("who", shell.who, name="who"),
    path("reset", shell.reset, name="reset"),
    path("<slug:firm>/enrol", tablet.enrol, name="enrol"),
    path("<slug:firm>/hello", tablet.hello, name="hello"),
    path("<slug:firm>/visits", tablet.list_visits, name="visits"),
    path("<slug:firm>/visits/<uuid:visit_id>/pack", tablet.pack, name="pack"),
    path("<slug:firm>/visits/<uuid:visit_id>/passed", tablet.passed, name="passed"),
    path("<slug:firm>/entries", tablet.entries, name="entries"),
    path("<slug:firm>/blobs/<str:sha256>", tablet.blob, name="blob"),
]
_TABLET = "tablets/<uuid:tablet_id>/"
_OF_VISIT = "visits/<uuid:visit_id>/tablets/"
#: Included among the firm's pages.
office_pages = (
    [
        path("tablets/", office.tablets, name="list"),
        path("tablets/code/", office.make_code, name="make_code"),
        path("tablets/rescue/", office.bring_in, name="bring_in"),
        path(_TABLET, office.tablet, name="tablet"),
        path(f"{_TABLET}revoke/", office.revoke, name="revoke"),
        path(_OF_VISIT, office.of_visit, name="of_visit"),
        path(f"{_OF_VISIT}<uuid:tablet_id>/excuse/", office.excuse, name="excuse"),
        path("entries/<uuid:review_id>/decide/", office.decide, name="decide"),
        path("photos/<uuid:photo_id>/", office.photo, name="photo"),
    ],
    "tablets",
)
