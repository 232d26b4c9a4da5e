"""Local rules: what a jurisdiction asks beyond the adopted edition."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from contractor.due import drawings, forms, queries, services
from contractor.engine.editions.model import COMPONENTS, TASK_WORDS
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
def local_rules(request: FirmRequest) -> HttpResponse:
    """List the firm's local rules by jurisdiction, with how many buildings each holds for."""
    today = timezone.localdate()
    counts = queries.count_buildings_by_jurisdiction(firm_id=request.firm.pk)
    rules = list(queries.list_all_local_rules(firm_id=request.firm.pk))
    show = "ended" if request.GET.get("show") == "ended" else "holding"
    ended = [rule for rule in rules if rule.until_on is not None and rule.until_on <= today]
    holding = [rule for rule in rules if rule not in ended]
    context = {
        "rules": [
            (
                rule,
                TASK_WORDS.get(rule.task, rule.name),
                COMPONENTS[rule.component].name if rule.component else "",
                counts.get(rule.jurisdiction.strip().casefold(), 0),
            )
            for rule in (ended if show == "ended" else holding)
        ],
        "show": show,
        "holding": len(holding),
        "ended": len(ended),
        "today": today,
        "jurisdictions": queries.list_jurisdictions(firm_id=request.firm.pk),
        "section": "Buildings",
    }
    return render(request, "due/local_rules.html", context)


@firm_view(Permission.MANAGE)
def add_local_rule(request: FirmRequest) -> HttpResponse:
    """Add a local rule: first show what it would move, then keep it."""
    now = timezone.now()
    today = timezone.localdate(now)
    places = queries.list_jurisdictions(firm_id=request.firm.pk)
    initial = {"from_on": today, "jurisdiction": request.GET.get("jurisdiction", "")}
    form = forms.LocalRuleForm(request.POST or None, jurisdictions=places, initial=initial)
    context: dict[str, object] = {"form": form, "jurisdictions": places, "section": "Buildings"}
    if request.method == "POST" and form.is_valid():
        facts = form.facts()
        try:
            if request.POST.get("step") == "keep":
                rule = services.add_local_rule(**vars(facts), member=request.member, now=now)
                messages.success(
                    request,
                    gettext("Kept. Dates in %(jurisdiction)s are being worked out anew.")
                    % {"jurisdiction": rule.jurisdiction},
                )
                return redirect("due:local_rules", firm=request.firm.slug)
            found = services.preview_local_rule(firm_id=request.firm.pk, facts=facts, today=today)
            context["preview"] = found
            context["drawn"] = drawings.draw_moves(found, today=today)
        except services.UnableToRule as error:
            form.add_error(None, str(error))
    return render(request, "due/add_local_rule.html", context)


@firm_view(Permission.MANAGE)
def end_local_rule(request: FirmRequest, rule_id: UUID) -> HttpResponse:
    """End a local rule on a day; show what moves back."""
    rule = or_404(queries.get_local_rule, queries.Missing, firm_id=request.firm.pk, rule_id=rule_id)
    now = timezone.now()
    today = timezone.localdate(now)
    form = forms.EndRule(request.POST or None, initial={"until_on": max(today, rule.from_on)})
    day = max(today, rule.from_on)
    if request.method == "POST" and form.is_valid():
        try:
            services.end_local_rule(rule=rule, member=request.member, now=now, **form.cleaned_data)
            messages.success(
                request,
                gettext("Ended. Dates in %(jurisdiction)s are worked out anew.")
                % {"jurisdiction": rule.jurisdiction},
            )
            return redirect("due:local_rules", firm=request.firm.slug)
        except services.UnableToRule as error:
            form.add_error(None, str(error))
    found = services.preview_end(rule=rule, until_on=day)
    context = {
        "rule": rule,
        "form": form,
        "words": TASK_WORDS.get(rule.task, rule.name),
        "component": COMPONENTS[rule.component].name if rule.component else "",
        "preview": found,
        "drawn": drawings.draw_moves(found, today=today),
        "section": "Buildings",
    }
    return render(request, "due/end_local_rule.html", context)
