"""Products and instruments, for programs."""

from typing import Any
from uuid import UUID

from contractor.programs.resource import operation
from contractor.register import forms, queries, services
from contractor.register.api.shared import (
    INSTRUMENT,
    PRODUCT,
    Register,
)
from contractor.tenancy.permissions import Permission


class Products(Register):
    """The firm's products."""

    group = "Devices"

    @operation(PRODUCT, many=True)
    def get(self, request: Any) -> Any:
        """List products."""
        return self.page(queries.list_products(firm_id=self.firm_id))


class Product(Register):
    """One product."""

    group = "Devices"

    @operation(PRODUCT)
    def get(self, request: Any, product_id: UUID) -> Any:
        """Show a product and what is marked on it."""
        return self.get_or_404(queries.get_product, product_id=product_id)

    @operation(
        PRODUCT,
        Permission.MANAGE,
        takes=forms.ProductForm,
        partly=True,
        example={"marked_low": 1.0, "marked_high": 3.5},
    )
    def patch(self, request: Any, product_id: UUID) -> Any:
        """Change what is marked on a product; readings already judged keep their verdicts."""
        found = self.get_or_404(queries.get_product, product_id=product_id)
        facts = self.read(forms.ProductForm, row=found).facts()
        return services.change_product(product=found, facts=facts, **self.now_and_member())


class Instruments(Register):
    """The firm's instruments."""

    group = "Instruments"

    @operation(INSTRUMENT, many=True)
    def get(self, request: Any) -> Any:
        """List instruments, those out of use too."""
        return self.page(queries.list_all_instruments(firm_id=self.firm_id))

    @operation(
        INSTRUMENT,
        Permission.MANAGE,
        takes=forms.InstrumentForm,
        status=201,
        example={"name": "Aerosol tester 3", "kind": "sensitivity", "calibrated_on": "2026-06-02"},
    )
    def post(self, request: Any) -> Any:
        """Add an instrument."""
        facts = self.read(forms.InstrumentForm).facts()
        return services.add_instrument(firm_id=self.firm_id, facts=facts, **self.now_and_member())


class _OneInstrument(Register):
    group = "Instruments"

    def _found(self, instrument_id: UUID) -> Any:
        return self.get_or_404(queries.get_instrument, instrument_id=instrument_id)


class Instrument(_OneInstrument):
    """One instrument."""

    @operation(INSTRUMENT)
    def get(self, request: Any, instrument_id: UUID) -> Any:
        """Show an instrument."""
        return self._found(instrument_id)

    @operation(
        INSTRUMENT,
        Permission.MANAGE,
        takes=forms.InstrumentForm,
        partly=True,
        example={"calibrated_on": "2026-11-20", "calibration_ends_on": "2027-11-20"},
    )
    def patch(self, request: Any, instrument_id: UUID) -> Any:
        """Change an instrument, or enter its new calibration."""
        found = self._found(instrument_id)
        facts = self.read(forms.InstrumentForm, row=found).facts()
        return services.change_instrument(instrument=found, facts=facts, **self.now_and_member())


class InstrumentRetired(_OneInstrument):
    """An instrument out of use."""

    @operation(
        INSTRUMENT,
        Permission.MANAGE,
        takes=forms.RetireForm,
        example={"on": "2026-11-20", "reason": "broken"},
    )
    def post(self, request: Any, instrument_id: UUID) -> Any:
        """Take an instrument out of use: nobody is offered it any more."""
        found = self._found(instrument_id)
        said = self.read(forms.RetireForm).cleaned_data
        return services.retire_instrument(instrument=found, **said, **self.now_and_member())


class InstrumentReturned(_OneInstrument):
    """An instrument in use again."""

    @operation(INSTRUMENT, Permission.MANAGE, keys={"instrument_id": "retired_id"})
    def post(self, request: Any, instrument_id: UUID) -> Any:
        """Take an instrument into use again."""
        return services.return_instrument(
            instrument=self._found(instrument_id), **self.now_and_member()
        )
