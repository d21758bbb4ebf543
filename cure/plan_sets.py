"""From when on each form set of a site can carry a planned pour: by where it is now. Pure.

A set under a bay that cures is not free: it is, when that bay's strip is cautiously expected to be met and a crew has
moved it. Of one of which that is not known nobody makes an hour up. Expected, not released.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cure.form_sets import OFF, Place
from cure.gate import held
from cure.plan_request import FormSet
from cure.turnaround import after_work
from shared.errors import PlanError
from shared.models.acts import ms
from shared.models.base import STRIP, BayId, Ms
from shared.models.setup import SiteFile
from shared.ports import BoardRow
from shared.shifts import site_hour

CAUTIOUS: Final = 0.9
"""The chance with which a curing bay's hour is kept."""
ONE_SET: Final = "A"
"""Where nobody says of any set."""


@dataclass(frozen=True, slots=True)
class Yard:
    """The sets of a sequence."""

    free_ms: Mapping[str, Ms]
    """From when on each can carry a pour."""
    kept_for: Mapping[BayId, str]
    """Bays that have their set already, or that one waits for."""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Standing:
    """What the site book says of its sets."""

    places: Mapping[str, Place]
    rows: Sequence[BoardRow]
    """Open pours."""
    ready_ms: Callable[[BoardRow], Ms | None]
    """When the strip of one is met, or cautiously expected to be; None: not foreseen."""

    def row(self, bay: str) -> BoardRow | None:
        """Return the open pour of a bay whose forms are of interest."""
        return next((row for row in self.rows if row.pour.bay == bay and STRIP in row.gates), None)


NOTHING_KNOWN: Final = Standing({}, (), lambda _: None)


@dataclass(frozen=True, slots=True)
class Sequenced:
    """What the sets are wanted for."""

    bays: Sequence[BayId]
    turnaround_h: float
    """Working hours to move a set."""
    chance: float
    """With which bays are taken to be ready."""
    site: SiteFile
    now_ms: Ms

    def moved_ms(self, from_ms: Ms) -> Ms:
        """Return when a set is set up anew that can be taken off from an hour on."""
        of = self.site.site
        return after_work(max(from_ms, self.now_ms), self.turnaround_h, of.shift, of.zone)


@dataclass(frozen=True, slots=True)
class _Found:
    free_ms: Ms | None
    said: str = ""
    """Where it is, or why nobody knows when it is free."""
    bay: BayId | None = None
    """For whose pour it is kept."""


def yard_of(asked: Sequence[FormSet], standing: Standing, wanted: Sequenced) -> Yard:
    """Return the sets of a sequence, and from when on each is free.

    Args:
        asked: as they are told; none: those of the site book of which that is known.
        standing: what the site book says.
        wanted: what they are wanted for.

    Raises:
        PlanError: of a set that is named, or of all, nobody knows when it is free; or one is named twice.
    """
    if len({one.name for one in asked}) < len(asked):
        raise PlanError("a form set is named once")
    named = asked or [FormSet(name=name) for name in standing.places]
    found = {one.name: _found(one, standing, wanted) for one in named}
    free_ms = {name: one.free_ms for name, one in found.items() if one.free_ms is not None}
    unknown = "; ".join(f"set {name} {one.said}" for name, one in found.items() if one.free_ms is None)
    if unknown and (asked or not free_ms):
        raise PlanError(f"{unknown}: say from when on it is free, or leave it out")
    if not free_ms:
        return Yard({ONE_SET: 0}, {}, (f"no form set is on the site book: one is taken to be there, {ONE_SET}",))
    notes = [f"set {name} {found[name].said}" for name in free_ms if found[name].said]
    notes += [f"left out: {unknown}"] if unknown else []
    return Yard(free_ms, {one.bay: name for name, one in found.items() if one.bay is not None}, tuple(notes))


def _found(asked: FormSet, standing: Standing, wanted: Sequenced) -> _Found:
    """Return from when on one set is free, or why nobody knows."""
    place = standing.places.get(asked.name)
    if asked.free is not None:
        return _Found(ms(asked.free))
    if place is None:
        return _Found(0, "is not on the site book: it is taken to be free" if standing.places else "")
    next_bay = next((bay for bay in wanted.bays if bay == place.waits), None)
    if place.waits is not None and next_bay is None:
        return _Found(None, f"waits for bay {place.waits}, which is not of this sequence")
    if place.bay is None:
        return _Found(0, bay=next_bay)
    row = standing.row(place.bay)
    if row is None:
        # Set up for a pour that is to come: for one of the sequence, or for another.
        here = next((bay for bay in wanted.bays if bay == place.bay), None)
        return _Found(None, f"is in bay {place.bay}, where nothing cures") if here is None else _Found(0, bay=here)
    return _under(place.bay, row, standing, wanted, next_bay)


def _under(bay: str, row: BoardRow, standing: Standing, wanted: Sequenced, next_bay: BayId | None) -> _Found:
    """Return from when on a set is free that lies under a pour."""
    is_off = held(row.gates[STRIP]) in OFF
    ready_ms = wanted.now_ms if is_off else standing.ready_ms(row)
    if ready_ms is None:
        return _Found(None, f"is in bay {bay}, of whose strip ({row.gates[STRIP].state}) no hour is foreseen")
    if not (is_off or wanted.chance <= CAUTIOUS):
        return _Found(
            None,
            f"is in bay {bay}, whose hour is foreseen with {100 * CAUTIOUS:.0f} %, not {100 * wanted.chance:.0f} %",
        )
    free_ms = wanted.moved_ms(ready_ms)
    hour = site_hour(free_ms, wanted.site.site.zone)
    return _Found(free_ms, f"is in bay {bay}, and expected to be free {hour}", next_bay)
