"""Addresses of the due area: code tables, local rules, changes, and what was done before."""

from django.urls import path

from contractor.due.views import changing, codes, heat, local, recording, software

app_name = "due"
urlpatterns = [
    path("codes/", codes.rules, name="rules"),
    path("codes/local/", local.local_rules, name="local_rules"),
    path("codes/local/add/", local.add_local_rule, name="add_local_rule"),
    path("codes/local/<uuid:rule_id>/end/", local.end_local_rule, name="end_local_rule"),
    path("codes/change/", changing.change_edition, name="change_edition"),
    path("codes/change/<uuid:change_id>/withdraw/", changing.withdraw, name="withdraw_change"),
    path("codes/<slug:edition>/", codes.edition, name="edition"),
    path("buildings/<uuid:building_id>/done/", recording.record, name="record"),
    path("done/<uuid:done_id>/withdraw/", recording.withdraw, name="withdraw_done"),
    path("systems/<uuid:system_id>/software/", software.software, name="software"),
    path("buildings/<uuid:building_id>/heat/", heat.heat, name="heat"),
]
