"""Addresses of the field area: the tablet's under /field/, the office's among the firm's pages."""

from django.urls import path

from contractor.field.views import tablet

app_name = "field"
urlpatterns = [
    path("<slug:firm>/enrol", tablet.enrol, name="enrol"),
    path("<slug:firm>/hello", tablet.hello, name="hello"),
    path("<slug:firm>/visits", tablet.list_visits, name="visits"),
    path("<slug:firm>/visits/<uuid:visit_id>/pack", tablet.pack, name="pack"),
    path("<slug:firm>/visits/<uuid:visit_id>/passed", tablet.passed, name="passed"),
    path("<slug:firm>/entries", tablet.entries, name="entries"),
    path("<slug:firm>/blobs/<str:sha256>", tablet.blob, name="blob"),
]
