"""The row wall: every table with a firm is walled before anyone is granted it.

The wall is desired state, built after each migrate from the database's own catalogue, because a
constraint in a model's Meta can be forgotten and a table without one would be open.
"""

from typing import Any

from django.conf import settings
from django.db import connections, transaction

POLICY = "firm_id = nullif(current_setting('app.firm_id', true), '')::uuid"
NAMED = "token = nullif(current_setting('app.token', true), '')"
MINE = "user_id = nullif(current_setting('app.user_id', true), '')::uuid"
_FIRM = (
    "firm_wall * {0} (firm_id = (NULLIF(current_setting('app.firm_id'::text, true), ''::text))"
    "::uuid)"
)
_OWN = (
    "own_seats r {0} (user_id = (NULLIF(current_setting('app.user_id'::text, true), ''::text))"
    "::uuid)"
)
_TOKEN = (
    "by_token r {0} ((token)::text = NULLIF(current_setting('app.token'::text, true), ''::text))"
)
WALL = [_FIRM]  # as PostgreSQL 15 to 18 write it back
#: Tables on which a person may also read their own seats, in whichever firm they lie.
OWN_SEATS = {"tenancy_member", "owners_ownerseat"}
#: Tables of which anyone may read the one row whose token they name, and no other.
BY_TOKEN = {"reports_proof", "owners_sharelink"}
#: Tables without a firm, and why they may be so.
OPEN = {
    "tenancy_firm": "holds a key and a slug only",
    "tenancy_user": "sign-in; what a user may see hangs on seats",
    "account_emailaddress": "sign-in",
    "account_emailconfirmation": "sign-in",
    "operations_run": "when backups and drills ran; figures of the whole server, no firm's rows",
    "mfa_authenticator": "sign-in; what it holds is encrypted",
    "usersessions_usersession": "sign-in: where somebody is signed in",
    "django_session": "sign-in; holds no firm's data",
    "django_migrations": "which migrations have run",
    "django_content_type": "names of models",
    "auth_permission": "Django's own; unused",
    "auth_group": "Django's own; unused",
    "auth_group_permissions": "Django's own; unused",
}
#: What was said stays said: the application may add and read, never change or remove.
APPEND_ONLY = {
    "owners_linkuse",
    "owners_decision",
    "reports_handing",
    "reports_proof",
    "custody_removal",
    "custody_longerrule",
    "tenancy_auditline",
    "readings_reading",
    "readings_withdrawal",
    "power_batterytest",
    "power_batterytestwithdrawal",
    "alarms_unwantedalarm",
    "alarms_logwithdrawal",
    "alarms_nonestatement",
    "labels_binding",
    "labels_printrun",
    "labels_printedlabel",
    "findings_findingstep",
    "findings_noticegiven",
    "findings_watchround",
    "visits_entry",
    "visits_measurement",
    "visits_sealedrecord",
    "field_received",
    "drift_snapshot",
    "planning_told",
}
TABLES = """
    select c.relname,
           exists (select from pg_attribute a
                   where a.attrelid = c.oid and a.attname = 'firm_id' and not a.attisdropped),
           c.relrowsecurity and c.relforcerowsecurity,
           array(select concat_ws(' ', polname, polcmd, polroles::text,
                                  pg_get_expr(polqual, polrelid),
                                  pg_get_expr(polwithcheck, polrelid))
                 from pg_policy where polrelid = c.oid order by polname)
    from pg_class c join pg_namespace n on n.oid = c.relnamespace
    where n.nspname = 'public' and c.relkind in ('r', 'p') order by 1
"""
VIEWS = """
    select c.relname from pg_class c join pg_namespace n on n.oid = c.relnamespace
    where n.nspname = 'public'
      and (c.relkind = 'm' or c.relkind = 'v'
           and not coalesce('security_invoker=true' = any (c.reloptions), false))
"""

#: Functions that read as their owner, past the wall, and why each may: it asks for the firm itself.
PAST_THE_WALL = {
    "search_keys": "answers keys of the active firm; their rows are read behind it",
    "label_keys": "answers keys of the active firm's labels; their rows are read behind it",
    "demo_remove_firm": "removes the active firm, and only where the demo made it up",
    "custody_remove_content": "changes one record of the active firm, whose removal is on record",
}
FUNCTIONS = """
    select p.proname from pg_proc p join pg_namespace n on n.oid = p.pronamespace
    where n.nspname = 'public' and p.prosecdef and not p.proname = any (%s)
"""


class Unwalled(RuntimeError):
    """A table or view would let one firm see another's rows."""


def expected(table: str) -> list[str]:
    """List the policies that a firm table must have, as the catalogue writes them."""
    if table in BY_TOKEN:
        return [_FIRM, _TOKEN]
    return [_FIRM, _OWN] if table in OWN_SEATS else WALL


def build(using: str, **_: object) -> None:
    """Wall and grant; safe to run again, and takes no lock on a table that is already right.

    Raises
    ------
    Unwalled
        If a table has neither a firm nor a reason, has other policies, or a view reads as owner.
    """
    if using != "owner":
        return
    app = settings.DATABASES["default"]["USER"]
    with transaction.atomic(using), connections[using].cursor() as cursor:
        cursor.execute(VIEWS)
        if view := cursor.fetchone():
            raise Unwalled(
                f"The view {view[0]} reads as its owner. Create it WITH (security_invoker = true),"
                " never materialized."
            )
        cursor.execute(FUNCTIONS, [list(PAST_THE_WALL)])
        if function := cursor.fetchone():
            raise Unwalled(
                f"The function {function[0]} runs as its owner. Let it run as who calls it, or list"
                " it in tenancy.wall.PAST_THE_WALL with a reason."
            )
        cursor.execute(f'GRANT USAGE ON SCHEMA public TO "{app}"')
        cursor.execute(TABLES)
        for table, has_firm, forced, policies in cursor.fetchall():
            _wall_one(cursor, table, has_firm, forced, policies)
            rights = "SELECT, INSERT" if table in APPEND_ONLY else "SELECT, INSERT, UPDATE, DELETE"
            cursor.execute(
                f'REVOKE ALL ON "{table}" FROM "{app}"; GRANT {rights} ON "{table}" TO "{app}"'
            )
        cursor.execute(f'GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO "{app}"')


def _wall_one(cursor: Any, table: str, has_firm: bool, forced: bool, policies: list[str]) -> None:
    if not has_firm:
        if table not in OPEN:
            raise Unwalled(
                f"{table} has no firm_id. Give it a firm, or list it in tenancy.wall.OPEN with"
                " a reason."
            )
        return
    if not policies:
        cursor.execute(f'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY')
        cursor.execute(f'CREATE POLICY firm_wall ON "{table}" USING ({POLICY})')
        if table in OWN_SEATS:
            cursor.execute(f'CREATE POLICY own_seats ON "{table}" FOR SELECT USING ({MINE})')
        if table in BY_TOKEN:
            cursor.execute(f'CREATE POLICY by_token ON "{table}" FOR SELECT USING ({NAMED})')
        return
    if not (forced and sorted(policies) == sorted(p.format("{0}") for p in expected(table))):
        raise Unwalled(f"{table} has other policies than the wall: {policies}.")
