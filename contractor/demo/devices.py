"""Write the device list of an invented building, and all that was read of it."""

import zlib
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np

from contractor.demo import histories, scenario, visits
from contractor.demo.cast import Cast
from contractor.engine import sensitivity
from contractor.readings import services as readings
from contractor.readings.models import Reading, RunCause, RunStart
from contractor.register.models import Area, Building, Device, Product, System


class Devices:
    """The device list of one building with everything read of it, written in bulk."""

    def __init__(
        self,
        *,
        cast: Cast,
        building: Building,
        system: System,
        premises: scenario.Premises,
        products: dict[str, Product],
        areas: dict[str, Area],
        installed_on: date,
        now: datetime,
    ) -> None:
        self.cast, self.building, self.system, self.premises = cast, building, system, premises
        self.products, self.areas, self.installed_on = products, areas, installed_on
        self.today, self.now = now.date(), now
        # Not hash(): that differs from one process to the next.
        self.random = np.random.default_rng(zlib.crc32(premises.name.encode()))
        self.devices: list[Device] = []
        self.runs: list[RunStart] = []
        self.rows: list[dict[str, Any]] = []
        self.later: list[dict[str, Any]] = []  # read after the signed visit
        self.held: list[visits.Held] = []
        self.number = 0
        latest = scenario.months_before(self.today, premises.visit_months_ago)
        self.visits = histories.yearly_visits(
            latest=latest, installed_on=installed_on, skipped=premises.skipped_years
        )
        week_ago = self.today - timedelta(days=7)
        self.extra = [week_ago] if (self.today - latest).days > 60 else []

    def write(self) -> None:
        """Write devices, run starts and readings."""
        for zone in self.premises.zones:
            for at in range(zone.detectors):
                self._add_detector(zone, at)
        zones = list(self.areas.values())
        for kind, count in self.premises.others.items():
            for at in range(count):
                area = zones[at % len(zones)]
                if kind == "duct":
                    self._add_place("duct", area, "Duct, air handler", at, 0.8)
                else:
                    self._add_other(kind, area, at)
        Device.objects.bulk_create(self.devices, batch_size=500)
        RunStart.objects.bulk_create(self.runs, batch_size=1000)
        Reading.objects.bulk_create(self._judged(), batch_size=1000)

    def _next_address(self) -> str:
        self.number += 1
        loop, number = divmod(self.number - 1, 130)
        return self.premises.address.format(loop=loop + 1, number=number + 1)

    def _add_detector(self, zone: scenario.Zone, at: int) -> None:
        room = zone.rooms[at % len(zone.rooms)]
        kind = scenario.FAMILIES[self.premises.family].kind
        self._add_place(kind, self.areas[zone.name], room, at // len(zone.rooms), zone.soiling)

    def _add_place(self, kind: str, area: Area, room: str, at: int, soiling: float) -> None:
        family = "D1" if kind == "duct" else self.premises.family
        product = self.products[family]
        setting = float(self.random.choice(self.premises.settings))
        limit = float(product.compensation_limit or 0.5 * setting)
        address = self._next_address()
        before: Device | None = None
        for life in histories.lives(
            random=self.random,
            installed_on=self.installed_on,
            visits=self.visits,
            rate=self.premises.rate * soiling,
            limit=limit,
            extra=self.extra,
        ):
            device = self._device(kind, area, f"{room} {at + 1}", product, address)
            device.installed_on, device.removed_on = life.installed_on, life.removed_on
            device.setting = f"{setting:.2f}"
            device.replaces = before
            self.devices.append(device)
            before = device
            seen_bulk, cleaned_bulk = self._hold(device, life)
            for day in (life.installed_on, *cleaned_bulk):
                cause = RunCause.INSTALLED if day == life.installed_on else RunCause.CLEANED
                self.runs.append(
                    RunStart(
                        firm=self.cast.firm,
                        device=device,
                        started_on=day,
                        cause=cause,
                        recorded_at=_at(day),
                    )
                )
            for seen in seen_bulk:
                row = {"device": device, "seen": seen, "setting": setting, "limit": limit}
                is_later = self.premises.is_signed and seen.on > self.visits[-1]
                (self.later if is_later else self.rows).append(row | {"product": product})

    def _hold(
        self, device: Device, life: histories.Life
    ) -> tuple[list[histories.Seen], list[date]]:
        """Hold back what the signed visit enters itself; give what is written in bulk."""
        if not self.premises.is_signed or device.removed_on is not None:
            return life.seen, life.cleaned_on
        day = self.visits[-1]
        mine = {seen.stage: seen.drift for seen in life.seen if seen.on == day}
        if "as_found" in mine:
            self.held.append(visits.Held(device, mine["as_found"], mine.get("as_left")))
        return (
            [seen for seen in life.seen if seen.on != day],
            [cleaned for cleaned in life.cleaned_on if cleaned != day],
        )

    def write_extra(self) -> None:
        """Write what was read after the signed visit, and renew where detectors stand."""
        self.rows, self.later = self.later, []
        Reading.objects.bulk_create(self._judged(), batch_size=1000)
        readings.refresh_standing(
            device_ids=list(
                Device.objects.filter(building=self.building).values_list("pk", flat=True)
            )
        )

    def _add_other(self, kind: str, area: Area, at: int) -> None:
        key = scenario.FAMILY_OF_KIND[kind]
        words = dict(Device._meta.get_field("kind").choices or [])[kind]
        device = self._device(
            kind,
            area,
            f"{str(words).capitalize()} {at + 1}",
            self.products[key],
            self._next_address(),
        )
        device.installed_on = self.installed_on
        self.devices.append(device)

    def _device(self, kind: str, area: Area, label: str, product: Product, address: str) -> Device:
        return Device(
            firm=self.cast.firm,
            building=self.building,
            system=self.system,
            area=area,
            product=product,
            kind=kind,
            label=label,
            address=address,
            position=self.number,
        )

    def _judged(self) -> list[Reading]:
        office = self.cast.who("office")
        made = []
        for number, row in enumerate(self.rows, start=1):
            seen, product = row["seen"], row["product"]
            verdict = sensitivity.judge(
                setting=row["setting"],
                drift=seen.drift,
                marked_low=product.marked_low,
                marked_high=product.marked_high,
                compensation_limit=row["limit"],
                nearing_share=product.nearing_share,
            )
            made.append(
                Reading(
                    firm=self.cast.firm,
                    device=row["device"],
                    taken_on=seen.on,
                    stage=seen.stage,
                    is_test=seen.is_test,
                    method="control_unit",
                    setting=row["setting"],
                    drift=seen.drift,
                    limit=row["limit"],
                    used=verdict.allowance_used,
                    marked_low=float(product.marked_low),
                    marked_high=float(product.marked_high),
                    typed={"drift": f"{seen.drift:.2f}", "unit": "%/ft"},
                    verdict=str(verdict.state),
                    rule=verdict.rule,
                    reason=verdict.reason,
                    source=f"print-out, row {number}",
                    recorded_at=_at(seen.on),
                    recorded_by=office,
                )
            )
        return made


def _at(day: date) -> datetime:
    return datetime.combine(day, time(15, 0), tzinfo=UTC)
