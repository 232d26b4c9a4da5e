"""Every address of the product. A firm's pages lie under /f/<firm>/, owners' under /o/<firm>/."""

from django.urls import include, path

from contractor.alarms import urls as alarms
from contractor.drift.views import device
from contractor.field.urls import office_pages
from contractor.labels.views import opened
from contractor.notices.views import unsubscribe
from contractor.operations.views import measured
from contractor.owners import giving_views, seat_views, shared_views
from contractor.people.views import joining
from contractor.planning.views.arranging import feed as calendar_feed
from contractor.programs import views as programs
from contractor.rates import views as rates
from contractor.readings.api import HandIn
from contractor.register import urls as register
from contractor.reports.views import verify
from contractor.schedule.views import building, customer
from contractor.web import views

# The pages of one customer, one building and one device gather what areas above the register know.
REGISTER = [
    *register.urlpatterns,
    path("buildings/<uuid:building_id>/", building, name="building"),
    path("devices/<uuid:device_id>/", device, name="device"),
    path("customers/<uuid:customer_id>/", customer, name="customer"),
]

# Comparing years asks for due dates, which lie above the record.
ALARMS = [
    *alarms.urlpatterns,
    path("alarms/", rates.buildings, name="firm"),
    path("alarms/export.csv", rates.export, name="export"),
    path("buildings/<uuid:building_id>/alarms/years/", rates.building, name="rates"),
]

urlpatterns = [
    path("", views.home, name="home"),
    path("healthz", views.healthz, name="healthz"),
    path("readyz", views.readyz, name="readyz"),
    path("language/", views.language, name="language"),
    path("metrics", measured, name="metrics"),
    path("accounts/", include("allauth.account.urls")),
    path("accounts/2fa/", include("allauth.mfa.urls")),
    path("accounts/sessions/", include("allauth.usersessions.urls")),
    path("set-up/", joining.set_up, name="set_up"),
    path("invitation/<str:token>/", joining.invitation, name="invitation"),
    path("unsubscribe/<str:token>/", unsubscribe, name="unsubscribe"),
    path(
        "f/<slug:firm>/",
        include(
            [
                path("", include("contractor.schedule.urls")),
                path("", include("contractor.search.urls")),
                path("", include((REGISTER, register.app_name))),
                path("", include("contractor.readings.urls")),
                path("", include("contractor.people.urls")),
                path("", include("contractor.labels.urls")),
                path("", include("contractor.findings.urls")),
                path("", include((ALARMS, alarms.app_name))),
                path("", include("contractor.agreements.urls")),
                path("", include("contractor.power.urls")),
                path("", include("contractor.due.urls")),
                path("", include("contractor.visits.urls")),
                path("", include(office_pages)),
                path("", include("contractor.drift.urls")),
                path("", include("contractor.planning.urls")),
                path("", include("contractor.notices.urls")),
                path("", include("contractor.reports.urls")),
                path("", include("contractor.operations.urls")),
                path("", include("contractor.custody.urls")),
                path("", include("contractor.programs.urls")),
                path("", include("contractor.demo.urls")),
                path("owners/", giving_views.owners, name="owners_overview"),
                path("customers/<uuid:customer_id>/seats/", seat_views.seats, name="owner_seats"),
                path("contacts/<uuid:contact_id>/seat/", seat_views.seat, name="owner_seat"),
                path(
                    "customers/<uuid:customer_id>/seats/<uuid:seat_id>/end/",
                    seat_views.end,
                    name="end_owner_seat",
                ),
                path("jobs/<uuid:job_id>/", views.job, name="job"),
                path("more/", views.more, name="more"),
                path("help/", views.guide, name="help"),
                path("lists/", views.kept_lists, name="kept_lists"),
                path("lists/keep/", views.keep_list, name="keep_list"),
                path("lists/<uuid:list_id>/forget/", views.forget_list, name="forget_list"),
                path("history/<str:subject>/<uuid:subject_id>/", views.history, name="history"),
            ]
        ),
    ),
    path("c/<slug:firm>/<str:secret>.ics", calendar_feed, name="calendar_feed"),
    path("api/v1/f/<slug:firm>/", include("contractor.api_urls")),
    path("api/v1/openapi.json", programs.description, name="api_description"),
    path("api/docs/", programs.handbook, name="api_handbook"),
    path("verify/", verify, name="verify"),
    path("D/<str:code>", opened, name="label"),
    path("s/<str:secret>/", shared_views.shared, name="shared"),
    path("s/<str:secret>/<uuid:report_id>.pdf", shared_views.shared_pdf, name="shared_pdf"),
    path("s/<str:secret>/<uuid:record_id>/", shared_views.shared_record, name="shared_record"),
    path("s/<str:secret>/<uuid:record_id>.json", shared_views.shared_json, name="shared_json"),
    path("s/<str:secret>/<uuid:record_id>.csv", shared_views.shared_csv, name="shared_csv"),
    path("field/", include("contractor.field.urls")),
    path("in/<slug:firm>/print-outs/", HandIn.as_view(), name="hand_in"),
    path("o/<slug:firm>/", include("contractor.owners.urls")),
]
