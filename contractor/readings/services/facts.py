"""Compare what a device list states of a device with what the register has of it."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from contractor.engine.editions.model import COMPONENTS
from contractor.engine.layouts import devices
from contractor.readings.services.listed import DeviceList, Listed
from contractor.readings.services.printed import KINDS
from contractor.register import services as register
from contractor.register.models import USUAL_COMPONENTS, Kind

#: What can be stated, as the register names it, with room and words.
_TEXTS = (("circuit", 40, "Circuit"), ("serial", 60, "Serial number"))
_AREA_ROOM = 120


def stated_facts(said: Mapping[str, Any], *, is_list: bool = True) -> dict[str, Any]:
    """Give what a row states of its device, as the register names it; `area`, `product` by name."""
    stated: dict[str, Any] = {}
    kind, component = devices.name_device(str(said["type_text"] or ""))
    kind = kind or (KINDS.get(said["kind"] or "", "") if said["kind"] != "other" else "")
    if kind:
        stated["kind"] = str(kind)
    if component and component != USUAL_COMPONENTS.get(Kind(kind)):
        stated["component"] = component
    for name, room, _ in _TEXTS:
        if value := str(said[name] or "").strip()[:room]:
            stated[name] = value
    if said["installed_on"]:
        stated["installed_on"] = date.fromisoformat(said["installed_on"])
    if is_list and (area := str(said["area"] or "").strip()[:_AREA_ROOM]):
        stated["area"] = area
    if is_list and (product := str(said["product"] or "").strip()[: register.NAME_ROOM]):
        stated["product"] = product
    return stated


def differing_facts(
    *, said: Mapping[str, Any], device: Listed, listed: DeviceList
) -> dict[str, Any]:
    """Give what a device list states of a device that the register has otherwise, or not."""
    differs = {}
    for name, value in stated_facts(said).items():
        if name == "area":
            now = listed.areas.get(device.area_id) if device.area_id else ""
            if (now or "").casefold() != value.casefold():
                differs[name] = value
        elif name == "kind":
            # A duct detector is a smoke detector: a plain list does not say otherwise.
            if value != device.kind and not (value == Kind.SMOKE and device.kind == Kind.DUCT):
                differs[name] = value
        elif name == "product":
            named = listed.named.get(value.casefold())
            if named and named != device.product_id:
                differs["product_id"] = named
            elif value.casefold() not in listed.named:
                differs["product"] = value
        elif value != getattr(device, name):
            differs[name] = value
    return differs


def say_facts(facts: Mapping[str, Any], *, device: Listed, listed: DeviceList) -> list[str]:
    """Say in sentences what would change."""
    sentences = []
    if "kind" in facts:
        was, now = Kind(device.kind).label, Kind(facts["kind"]).label
        sentences.append(f"The list has it as {_a(was)}; it becomes {_a(now)}.")
    if "component" in facts:
        sentences.append(f"For the code’s tables: {COMPONENTS[facts['component']].name}.")
    for name, _, words in _TEXTS:
        if name in facts:
            sentences.append(_was(words, getattr(device, name), facts[name]))
    if "area" in facts:
        was = listed.areas.get(device.area_id, "") if device.area_id else ""
        sentences.append(_was("Area", was, facts["area"]))
    if "installed_on" in facts:
        was = f"{device.installed_on:%-d %b %Y}" if device.installed_on else ""
        sentences.append(_was("Installed", was, f"{facts['installed_on']:%-d %b %Y}"))
    if "product_id" in facts:
        was = str(listed.products[device.product_id]) if device.product_id else ""
        sentences.append(_was("Product", was, str(listed.products[facts["product_id"]])))
    if "product" in facts:
        was = str(listed.products[device.product_id]) if device.product_id else ""
        now = f"{facts['product']}, which is added; what is marked on it is not known yet"
        sentences.append(_was("Product", was, now))
    return sentences


def _was(words: str, was: str, now: str) -> str:
    return f"{words} was {was}, now {now}." if was else f"{words}: {now}."


def _a(words: str) -> str:
    if words.startswith("other "):
        return f"an{words}"
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"
