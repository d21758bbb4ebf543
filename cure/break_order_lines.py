"""Orders to the laboratory in words, and as JSON. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Final

from cure.break_hours import CURING_C, OFF_C, BreakHours
from cure.break_orders import Order, PourOrders
from shared import units
from shared.models.base import Json, Ms
from shared.models.setup import LaboratorySettings
from shared.shifts import site_hour

OWN_RECORD: Final = "a break counts only with its own temperature record (slabhour test-result ... --equivalent-age-h)"
CAUTION: Final = (
    "An order asks the laboratory for breaks; it releases nothing, and an hour in it is expected, not known. The "
    f"expected window is from {OFF_C:g} °C warmer to {OFF_C:g} °C colder. Cylinders beside the slab have a "
    "record of their own, and may ripen otherwise than the slab. The engineer of record, the contract and the local "
    "code say which tests are required."
)
SAME: Final = "; the breaks ordered above for that hour answer this too"
NO_HOURS: Final = "no hours of the laboratory are set ([laboratory] in the site file): windows are not fitted to any"


def _window(h: BreakHours, zone: str) -> str:
    if h.expected_from_ms is None:
        return "no hour"
    if h.reached_ms is not None:
        return f"reached by {site_hour(h.reached_ms, zone)}"
    until = "no hour that is known" if h.expected_to_ms is None else site_hour(h.expected_to_ms, zone)
    return f"expected {site_hour(h.expected_from_ms, zone)} to {until}"


def hours_said(h: BreakHours, zone: str) -> str:
    """Return when a target is expected, and when to break for it."""
    window = _window(h, zone)
    if h.break_from_ms is None or h.break_to_ms is None:
        return f"{window}; not to be broken: {h.why}"
    shut = ", when the laboratory is shut" if h.moved else ""
    ages = f"{units.shown(h.age_from_h, 'h', limit=False)} to {units.shown(h.age_to_h, 'h', limit=False)}"
    when = f"{site_hour(h.break_from_ms, zone)} to {site_hour(h.break_to_ms, zone)}"
    return f"{window}{shut}; break {when}, at {ages} of equivalent age"


def _asked(order: Order, first: units.System) -> str:
    by_mpa: dict[tuple[float, bool], list[str]] = {}
    for w in order.wanted:
        by_mpa.setdefault((w.mpa, w.by_bound), []).append(w.what)
    said = []
    for (mpa, by_bound), what in by_mpa.items():
        of = "lower bound" if by_bound else "tests"
        said.append(f"{', '.join(what)} ({of} {units.shown(mpa, 'MPa', first=first, limit=True)})")
    return "; ".join(said)


def _places(orders: Sequence[Order], zone: str) -> Iterator[tuple[str, str]]:
    """Yield what is said of each order at the laboratory and beside the slab."""
    before: list[tuple[BreakHours, BreakHours]] = []
    for order in orders:
        both = (order.laboratory, order.beside)
        said = []
        for place, h in enumerate(both):
            same = h.break_from_ms is not None and any(_same(h, earlier[place]) for earlier in before)
            said.append(hours_said(h, zone) + (SAME if same else ""))
        before.append(both)
        yield said[0], said[1]


def _same(one: BreakHours, other: BreakHours) -> bool:
    return (one.break_from_ms, one.break_to_ms) == (other.break_from_ms, other.break_to_ms)


def _order(order: Order, places: tuple[str, str], first: units.System) -> Iterator[str]:
    curve = units.shown(order.curve_mpa, "MPa", first=first, limit=False)
    age = units.shown(order.age_h, "h", limit=True)
    at = f"at {age} of equivalent age, where the curve has {curve}"
    yield f"    {order.cylinders} cylinders {at}, for {_asked(order, first)}"
    yield f"        cured at {CURING_C:g} °C: {places[0]}"
    yield f"        beside the slab: {places[1]}"
    yield f"        from the last third of the pour; {OWN_RECORD}"


def laboratory_said(laboratory: LaboratorySettings | None) -> str:
    """Return when the laboratory is open."""
    return NO_HOURS if laboratory is None else f"laboratory open {laboratory.open}, {', '.join(laboratory.days)}"


def lines(
    found: Sequence[PourOrders],
    laboratory: LaboratorySettings | None,
    zone: str,
    first: units.System,
    now_ms: Ms,
) -> list[str]:
    """Return the orders as text, hours in site time.

    Args:
        found: what to order.
        laboratory: its hours.
        zone: IANA time zone of the site.
        first: which system of units stands first.
        now_ms: site time.
    """
    said = [f"{site_hour(now_ms, zone)}; {laboratory_said(laboratory)}"]
    for pour in found:
        version = "" if pour.version is None else f", version {pour.version}"
        said.append(f"{pour.bay}, pour {pour.pour}, mix {pour.mix}{version}")
        said += [f"    to verify its calibration: {pour.verify}"] if pour.verify is not None else []
        for order, places in zip(pour.orders, _places(pour.orders, zone), strict=True):
            said += _order(order, places, first)
        said += [f"    {note}" for note in pour.notes]
        said += ["    nothing to order"] if not (pour.orders or pour.notes) else []
    return [*said, *([] if found else ["no open pour with an end"]), "", CAUTION]


def to_json(found: Sequence[PourOrders], laboratory: LaboratorySettings | None, now_ms: Ms) -> dict[str, Json]:
    """Return the orders as a JSON object; hours are milliseconds since 1970 UTC."""
    return {
        "at_ms": now_ms,
        "laboratory": None if laboratory is None else laboratory.model_dump(mode="json"),
        "pours": [asdict(pour) for pour in found],
        "counts": OWN_RECORD,
        "caution": CAUTION,
    }
