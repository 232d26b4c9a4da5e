"""Know products by the names that files give them; change what is marked on one."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from contractor.register.models import Product
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit

NAME_ROOM = 80


def names_of(products: Iterable[Product]) -> dict[str, UUID | None]:
    """Give products by folded name, with make or by the model alone; None where two are called so.

    >>> names_of([])
    {}
    """
    named: dict[str, UUID | None] = {}
    for product in products:
        for name in {str(product).casefold(), product.model.casefold()}:
            named[name] = product.pk if name not in named else None
    return named


@transaction.atomic
def add_products(*, firm_id: UUID, kinds: Mapping[str, str]) -> dict[str, UUID]:
    """Add the products that the firm has not, known by name only; answer those by folded name.

    kinds: of what kind of device each name is. What is marked on them is not known until somebody
    enters it. A name is split only where it begins with a make that the firm has. The caller writes
    the audit line of the whole.
    """
    products = list(Product.objects.filter(firm_id=firm_id))
    known = names_of(products)
    makes = {product.make.casefold(): product.make for product in products if product.make}
    found: dict[str, UUID] = {}
    for name, kind in kinds.items():
        folded = name.casefold()
        if folded in known:
            if (pk := known[folded]) is not None:
                found[folded] = pk
            continue
        first, _, rest = name.partition(" ")
        make, model = ("", name)
        if rest.strip() and first.casefold() in makes:
            make, model = makes[first.casefold()], rest.strip()
        product, _ = Product.objects.get_or_create(
            firm_id=firm_id, make=make, model=model[:NAME_ROOM], defaults={"kind": kind}
        )
        found[folded] = product.pk
    return found


@dataclass(frozen=True)
class ProductFacts:
    """What is marked on a product, and how it may correct for soiling. [%/ft]"""

    make: str
    model: str
    kind: str
    principle: str = ""
    marked_low: Any = None
    marked_high: Any = None
    is_adjustable: bool = False
    compensation_limit: Any = None
    limit_share_of_setting: Any = "0.5"
    nearing_share: Any = "0.75"


@transaction.atomic
def change_product(
    *, product: Product, facts: ProductFacts, member: Member, now: datetime
) -> Product:
    """Change what is marked on a product; readings already judged keep their verdicts."""
    product = Product.objects.select_for_update().get(pk=product.pk)
    before = {name: str(getattr(product, name)) for name in facts.__dict__}
    for name, value in facts.__dict__.items():
        setattr(product, name, value)
    product.save(update_fields=list(facts.__dict__))
    after = {name: str(value) for name, value in facts.__dict__.items()}
    write_audit(
        member=member,
        action="product.changed",
        subject=product,
        summary=str(product),
        before=before,
        after=after,
        now=now,
    )
    return product
