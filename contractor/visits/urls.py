"""Addresses of the visits area."""

from django.urls import path

from contractor.visits.views import closing, field, log, office, several, stating

app_name = "visits"
_VISIT = "visits/<uuid:visit_id>/"
_DEVICE = f"{_VISIT}devices/<uuid:device_id>/"
urlpatterns = [
    path("visits/", office.visits, name="list"),
    path("visits/several/", several.assign, name="assign"),
    path("visits/several/<uuid:deed_id>/", several.assigned, name="assigned"),
    path("buildings/<uuid:building_id>/visits/plan/", office.plan, name="plan"),
    path("buildings/<uuid:building_id>/log/", log.log, name="log"),
    path("log/<uuid:line_id>/decide/", log.decide, name="decide_line"),
    path(f"{_VISIT}evidence/", log.evidence, name="evidence"),
    path(_VISIT, office.visit, name="visit"),
    path(f"{_VISIT}change/", office.change, name="change"),
    path(f"{_VISIT}cancel/", office.cancel, name="cancel"),
    path(f"{_VISIT}record/", office.revisions, name="revisions"),
    path(f"{_VISIT}begin/", field.begin, name="begin"),
    path(f"{_VISIT}round/", field.go_round, name="round"),
    path(f"{_VISIT}notes/", stating.note, name="note"),
    path(f"{_VISIT}devices/add/", stating.add_found, name="add_found"),
    path(_DEVICE, field.entry, name="entry"),
    path(f"{_DEVICE}judge/", field.judge_typed, name="judge"),
    path(f"{_DEVICE}read/", field.read, name="read"),
    path(f"{_DEVICE}pass/", stating.pass_device, name="pass_device"),
    path(f"{_DEVICE}other/", stating.other, name="other"),
    path(f"{_DEVICE}fail/", stating.fail, name="fail"),
    path(f"{_DEVICE}not-tested/", stating.not_tested, name="not_tested"),
    path(f"{_DEVICE}clean/", stating.clean, name="clean"),
    path(f"{_DEVICE}replace/", stating.replace, name="replace"),
    path(f"{_DEVICE}take-back/", stating.take_back, name="take_back"),
    path(f"{_DEVICE}finding/", stating.find, name="find"),
    path(f"{_DEVICE}decide/", closing.resolve, name="resolve"),
    path(f"{_VISIT}hand-in/", closing.hand_in, name="hand_in"),
    path(f"{_VISIT}review/", closing.review, name="review"),
    path(f"{_VISIT}send-back/", closing.send_back, name="send_back"),
    path(f"{_VISIT}sign-off/", closing.sign_off, name="sign_off"),
    path(f"{_VISIT}amend/", closing.amend, name="amend"),
]
