"""Addresses of the findings area."""

from django.urls import path

from contractor.findings.views import doing, looking, naming

app_name = "findings"
_ONE = "findings/<uuid:finding_id>/"
urlpatterns = [
    path("findings/", looking.findings, name="list"),
    path("findings/usual/", naming.titles, name="titles"),
    path("findings/usual/own/", naming.own_titles, name="own_titles"),
    path("findings/usual/new/", naming.add_title, name="add_title"),
    path("findings/usual/<uuid:title_id>/change/", naming.change_title, name="change_title"),
    path("findings/usual/<uuid:title_id>/end/", naming.end_title, name="end_title"),
    path(_ONE, looking.finding, name="finding"),
    path(f"{_ONE}correct/", doing.correct, name="correct"),
    path(f"{_ONE}told/", doing.tell_owner, name="tell_owner"),
    path(f"{_ONE}notice/", doing.give_notice, name="give_notice"),
    path(f"{_ONE}step/", doing.step, name="step"),
    path(f"{_ONE}outage/", doing.outage, name="outage"),
    path(f"{_ONE}rounds/", doing.walk, name="walk"),
    path(f"{_ONE}back/", doing.restore, name="restore"),
    path("buildings/<uuid:building_id>/findings/new/", looking.open_finding, name="open"),
    path("buildings/<uuid:building_id>/findings/letter/", looking.letter, name="letter"),
]
