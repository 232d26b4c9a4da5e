"""What every page's frame shows: navigation, firm, member."""

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

#: Navigation by the work, in its order: what it says, where it leads.
NAVIGATION = (
    ("To do", "schedule:todo"),
    ("Buildings", "register:buildings"),
    ("Visits", "visits:list"),
    ("Drift", "drift:fleet"),
    ("Findings", "findings:list"),
    ("Reports", "reports:list"),
)


def chrome(request: HttpRequest) -> dict[str, Any]:
    """Give the base template its navigation, for a request that came through the firm's door."""
    firm = getattr(request, "firm", None)
    if firm is None or getattr(request, "member", None) is None:
        return {"nav": []}
    here = request.resolver_match.app_name if request.resolver_match else ""
    return {
        "nav": [
            {
                "label": label,
                "url": reverse(name, kwargs={"firm": firm.slug}),
                "current": name.split(":")[0] == here,
            }
            for label, name in NAVIGATION
        ]
    }
