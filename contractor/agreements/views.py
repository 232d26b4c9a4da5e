"""The list of agreements, and one of them beside what the code asks."""

from collections.abc import Iterable
from datetime import date
from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from contractor.agreements import forms, queries, services
from contractor.engine.editions.model import TASK_WORDS
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.web import charts, exports
from contractor.web.door import FirmRequest, firm_view, or_404


def _span(agreement: Any, today: date) -> charts.YearSpan:
    """Draw an agreement on the axis of all: two years back, three ahead."""
    return charts.YearSpan(
        first=date(today.year - 2, 1, 1),
        last=date(today.year + 3, 12, 31),
        today=today,
        start=agreement.starts_on,
        end=agreement.ends_on,
        act_by=agreement.notice_on,
        renews=bool(agreement.renewal_months),
        near=_is_near(agreement, today),
    )


def _promise(row: queries.Asked) -> charts.PromiseLine:
    """Draw one task: asked and promised; what is promised without a word is promised as asked."""
    asked = row.frequency if row.items else None
    promised = (row.often or row.frequency) if row.promised else None
    return charts.PromiseLine(words=row.words, asked=asked, promised=promised)


def _is_near(agreement: Any, today: date) -> bool:
    return agreement.ends_on is not None and today <= agreement.ends_on <= today + queries.NEAR


@firm_view(Permission.READ)
def agreements(request: FirmRequest) -> HttpResponse:
    """List agreements, the next end first."""
    today = timezone.localdate()
    show = request.GET.get("show", "running")
    show = show if show in ("renewing", "ended") else "running"
    found = queries.list_agreements(firm_id=request.firm.pk, today=today, show=show)
    if form := exports.asked(request):
        return _as_file(form, found)
    page = Paginator(found, 60).get_page(request.GET.get("page"))
    ending = queries.list_agreements(firm_id=request.firm.pk, today=today, show="renewing").count()
    context = {
        "page": page,
        "rows": [(one, _is_near(one, today), _span(one, today)) for one in page],
        "show": show,
        "today": today,
        "ending": ending,
        "task_words": TASK_WORDS,
        "section": "Customers",
    }
    return render(request, "agreements/list.html", context)


def _as_file(form: str, found: Iterable[Any]) -> HttpResponse:
    """Give agreements as a file: with whom, until when, what was promised, at what price."""
    return exports.as_file(
        form,
        name="agreements",
        heads=[
            "customer", "number", "starts", "ends", "notice by", "renews for months", "buildings",
            "tasks promised", "price", "billed", "insurance asked for", "licences asked for",
        ],
        rows=(
            [
                one.customer.name,
                one.number,
                one.starts_on,
                one.ends_on,
                one.notice_on,
                one.renewal_months,
                one.buildings,
                ", ".join(TASK_WORDS.get(key, key) for key in one.tasks),
                one.price,
                one.get_billing_display(),
                one.insurance,
                one.licences,
            ]
            for one in found
        ),
    )  # fmt: skip


@firm_view(Permission.READ)
def agreement(request: FirmRequest, agreement_id: UUID) -> HttpResponse:
    """Show one agreement beside what the code asks of its buildings."""
    found = or_404(
        queries.get_agreement,
        queries.Missing,
        firm_id=request.firm.pk,
        agreement_id=agreement_id,
    )
    today = timezone.localdate()
    compared = queries.compare(agreement=found, buildings=queries.list_covered(agreement=found))
    context = {
        "agreement": found,
        "today": today,
        "near": _is_near(found, today),
        "over": found.ends_on is not None and found.ends_on < today,
        "span": _span(found, today),
        "compared": [(one, [(row, _promise(row)) for row in one.rows]) for one in compared],
        "axis": charts.PromiseAxis(),
        "gaps": sum(one.gaps for one in compared),
        "lines": list(tenancy.list_audit_lines(firm_id=request.firm.pk, subject_id=found.pk)[:20]),
        "section": "Customers",
    }
    return render(request, "agreements/agreement.html", context)


@firm_view(Permission.MANAGE)
def add(request: FirmRequest, customer_id: UUID) -> HttpResponse:
    """Write down a new agreement with a customer."""
    customer = or_404(
        register.get_customer, register.Missing, firm_id=request.firm.pk, customer_id=customer_id
    )
    buildings = list(register.list_buildings_of(customer=customer))
    initial = {
        "starts_on": timezone.localdate(),
        "tasks": ["inspection", "functional", "sensitivity"],
        "buildings": [str(one.pk) for one in buildings],
    }
    form = forms.AgreementForm(request.POST or None, buildings=buildings, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            made = services.add_agreement(
                customer=customer,
                terms=form.terms(),
                buildings=form.covered(),
                member=request.member,
                now=timezone.now(),
            )
            return redirect("agreements:agreement", firm=request.firm.slug, agreement_id=made.pk)
        except services.UnableToAgree as error:
            form.add_error(None, str(error))
    context = {"form": form, "customer": customer, "buildings": buildings, "section": "Customers"}
    return render(request, "agreements/form.html", context)


@firm_view(Permission.MANAGE)
def change(request: FirmRequest, agreement_id: UUID) -> HttpResponse:
    """Change what was agreed."""
    found = or_404(
        queries.get_agreement,
        queries.Missing,
        firm_id=request.firm.pk,
        agreement_id=agreement_id,
    )
    buildings = list(register.list_buildings_of(customer=found.customer))
    names = [name for name in forms.AgreementForm.base_fields if name != "buildings"]
    initial = {name: getattr(found, name) for name in names}
    initial |= {f"often_{key}": word for key, word in found.often.items()}
    initial["buildings"] = [str(one.pk) for one in queries.list_covered(agreement=found)]
    form = forms.AgreementForm(request.POST or None, buildings=buildings, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_agreement(
                agreement=found,
                terms=form.terms(),
                buildings=form.covered(),
                member=request.member,
                now=timezone.now(),
            )
            return redirect("agreements:agreement", firm=request.firm.slug, agreement_id=found.pk)
        except services.UnableToAgree as error:
            form.add_error(None, str(error))
    context = {
        "form": form,
        "agreement": found,
        "customer": found.customer,
        "buildings": buildings,
        "section": "Customers",
    }
    return render(request, "agreements/form.html", context)
