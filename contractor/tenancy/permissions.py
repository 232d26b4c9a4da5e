"""What each role may do."""

from enum import StrEnum

from contractor.tenancy.models import Role


class Permission(StrEnum):
    """One kind of act."""

    READ = "read"  # every page of the firm
    RECORD_TESTS = "record_tests"  # enter results on a visit
    MANAGE = "manage"  # customers, buildings, intakes, planning, findings
    SIGN_OFF = "sign_off"  # review a visit and seal it
    ADMINISTER = "administer"  # members and the firm's own settings


ROLES: dict[str, frozenset[Permission]] = {
    Role.PRINCIPAL: frozenset(Permission),
    Role.OFFICE: frozenset(
        {Permission.READ, Permission.RECORD_TESTS, Permission.MANAGE, Permission.SIGN_OFF}
    ),
    Role.TECHNICIAN: frozenset({Permission.READ, Permission.RECORD_TESTS}),
}
