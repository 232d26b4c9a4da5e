"""Addresses of the people area."""

from django.urls import path

from contractor.people.views import firm, members, nights

app_name = "people"
_MEMBER = "people/<uuid:member_id>/"
_LICENCE = "licences/<uuid:licence_id>/"
urlpatterns = [
    path("people/", members.members, name="list"),
    path("people/invite/", members.invite, name="invite"),
    path(
        "people/invitations/<uuid:invitation_id>/cancel/", members.cancel, name="cancel_invitation"
    ),
    path(_MEMBER, members.member, name="member"),
    path(f"{_MEMBER}change/", members.change, name="change"),
    path(f"{_MEMBER}leave/", members.leave, name="leave"),
    path(f"{_MEMBER}licences/new/", members.add_licence, name="add_licence"),
    path("licences/new/", members.add_licence, name="add_own_licence"),
    path(f"{_LICENCE}change/", members.change_licence, name="change_licence"),
    path(f"{_LICENCE}end/", members.end_licence, name="end_licence"),
    path("firm/", firm.profile, name="firm"),
    path("firm/change/", firm.change, name="change_firm"),
    path("firm/logo/", firm.keep_logo, name="keep_logo"),
    path("firm/logo.png", firm.logo, name="logo"),
    path("firm/mail-test/", firm.test_mail, name="test_mail"),
    path("firm/nights/", nights.nights, name="nights"),
]
