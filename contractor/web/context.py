"""What every page shows around its text: navigation, firm, person, theme."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject
from django.utils.translation import get_language

from contractor.tenancy.deeds import LISTS
from contractor.tenancy.permissions import Permission
from contractor.web.addresses import find_address
from contractor.web.keeping import kept_of

NAV = (
    ("To do", "schedule:todo"),
    ("Due", "schedule:due"),
    ("Customers", "register:customers"),
    ("Buildings", "register:buildings"),
    ("Visits", "visits:list"),
    ("Planning", "planning:board"),
    ("Drift", "drift:fleet"),
    ("Findings", "findings:list"),
    ("Alarms", "alarms:firm"),
    ("Reports", "reports:list"),
    ("More", "more"),
)
FINDER = "search:find"
QUICK = "search:quick"
THEMES = {"light", "dark"}


def navigation(*, firm: str, path: str) -> list[dict[str, Any]]:
    """List the main pages that there are; the first is current only at its own address.

    A page that lies elsewhere names its section in its context: `section="Buildings"`.
    """
    found = [(label, url) for label, name in NAV if (url := find_address(name, firm))]
    return [
        {
            "label": label,
            "url": url,
            "current": path == url or (place > 0 and path.startswith(url)),
        }
        for place, (label, url) in enumerate(found)
    ]


def chrome(request: HttpRequest) -> dict[str, Any]:
    """Give the base template its surroundings, from what the door has put on the request."""
    theme = request.COOKIES.get("theme", "")
    given: dict[str, Any] = {
        "language": get_language() or "en",
        "language_url": find_address("language", ""),
        "theme": theme if theme in THEMES else "",
        "hand": "left" if request.COOKIES.get("hand") == "left" else "",
        "nav": [],
        "chrome": {},
        "can_manage": False,  # whether to offer what only the office may do
    }
    firm, member = getattr(request, "firm", None), getattr(request, "member", None)
    if firm is None:
        return given
    profile = getattr(request, "profile", None)
    given["chrome"] = {
        "firm": profile.name if profile else firm.slug,
        "invented": profile is not None and profile.is_invented,
    }
    page = request.resolver_match.view_name if request.resolver_match else ""
    if getattr(request, "seat", None) is not None:
        given["chrome"]["help_url"] = f"{find_address('owners:help', firm.slug)}?of={page}"
    if member is not None:
        may = getattr(request, "may", None)  # put there by the door, with the rest
        given["can_manage"] = may is not None and may(Permission.MANAGE)
        if given["chrome"]["invented"] and given["can_manage"]:
            given["chrome"]["remove_url"] = find_address("demo:remove", firm.slug)
        given["saved_page"] = page if page in LISTS else ""
        given["saved_lists"] = SimpleLazyObject(lambda: kept_of(member, page, firm.slug))
        given["nav"] = navigation(firm=firm.slug, path=request.path)
        given["chrome"] |= {
            "home": find_address(NAV[0][1], firm.slug) or "/",
            "find_url": find_address(FINDER, firm.slug),
            "quick_url": find_address(QUICK, firm.slug),
            "help_url": f"{find_address('help', firm.slug)}?of={page}",
            "person": member.name,
            "role": member.get_role_display(),
        }
        if may is not None and may(Permission.ADMINISTER):
            given["chrome"]["health_url"] = find_address("operations:health", firm.slug)
            given["chrome"]["audit_url"] = find_address("operations:audit", firm.slug)
    return given
