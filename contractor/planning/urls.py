"""Addresses of the planning area."""

from django.urls import path

from contractor.planning.views import arranging, board

app_name = "planning"
urlpatterns = [
    path("planning/", board.board, name="board"),
    path("planning/weeks/", board.calendar, name="calendar"),
    path("planning/day/", board.day, name="day"),
    path("planning/calendars/", arranging.feeds, name="feeds"),
    path("planning/calendars/<uuid:feed_id>/revoke/", arranging.revoke, name="revoke"),
    path("planning/telling/<uuid:telling_id>/end/", arranging.tell_no_more, name="tell_no_more"),
    path("buildings/<uuid:building_id>/planning/", board.building, name="building"),
    path("buildings/<uuid:building_id>/planning/plan/", board.plan, name="plan"),
    path("buildings/<uuid:building_id>/before/", arranging.before, name="before"),
    path("visits/<uuid:visit_id>/move/", board.move, name="move"),
    path("visits/<uuid:visit_id>/arrange/", arranging.arrange, name="arrange"),
]
