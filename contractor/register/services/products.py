"""Know products by the names that files give them; add those that only a name is known of."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from django.db import transaction

from contractor.register.models import Product

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
