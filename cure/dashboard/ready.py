"""What is missing before a bay can be poured. Pure; what is not known is missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cure.bay import AIR_ZONES
from cure.dashboard.reader import Reader
from cure.lists import NEEDS_A_PERSON
from cure.sky_held import STALE_H
from cure.standin import silent_after_ms
from cure.ticks import TICKS
from shared.models.acts import Act, FileDocument
from shared.models.base import HOUR_MS, Ms
from shared.models.calibration import Calibration
from shared.models.decisions import Placement
from shared.models.messages import Delivery
from shared.models.people import Role
from shared.models.readings import Arrival
from shared.models.setup import BaySettings, SiteFile
from shared.shifts import day_of

TICK_HOLDS_MS: Final = 12 * HOUR_MS
"""A night changes what was seen (our judgement)."""
MUST_BE_REACHED: Final = frozenset({Role.CREW, Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})


@dataclass(frozen=True, slots=True)
class Known:
    """What the stores hold of the site."""

    site: SiteFile
    placements: Sequence[Placement]
    """Of now."""
    arrivals: Sequence[Arrival]
    calibrations: Sequence[Calibration]
    """In force."""
    deliveries: Sequence[Delivery]
    acts: Sequence[Act]
    """Documents on file, those of the last days."""
    weather_ms: Ms | None = None
    """When the site's weather was last heard; None: never, or it has none."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list."""

    key: str
    there: bool
    said: str
    """What is there, or what is missing."""


def ready(bay: BaySettings, known: Known, now_ms: Ms, reader: Reader) -> list[Item]:
    """Return the list of one bay."""
    found = (
        ("placed", *_placed(bay, known)),
        ("heard", *_heard(bay, known, now_ms, reader)),
        ("mix", *_mix(bay, known, now_ms)),
        ("plan", known.site.plan.adopted_by is not None, known.site.plan.document or ""),
        ("load", bay.construction_load_kpa is not None, reader.number(bay.construction_load_kpa, "kPa")),
        ("reached", *_reached(known)),
        ("weather", *_weather(known, now_ms, reader)),
        *((key, *_ticked(bay, name, known, now_ms, reader)) for key, name in TICKS.items()),
    )
    return [_item(reader, *of) for of in found]


def _item(reader: Reader, key: str, there: bool, said: str) -> Item:
    return Item(key, there, reader.say(f"ready-{key}" if there else f"ready-{key}.missing", said=said))


def _here(bay: BaySettings, known: Known) -> list[Placement]:
    return [p for p in known.placements if p.bay == bay.id and p.to_ms is None]


def _placed(bay: BaySettings, known: Known) -> tuple[bool, str]:
    there = _here(bay, known)
    required = any(p.required and p.zone not in AIR_ZONES for p in there)
    return required, ", ".join(p.sensor for p in there)


def _heard(bay: BaySettings, known: Known, now_ms: Ms, reader: Reader) -> tuple[bool, str]:
    there = _here(bay, known)
    heard = {a.sensor: a.newest_received_ms for a in known.arrivals}
    silent = [p.sensor for p in there if not now_ms - heard.get(p.sensor, 0) <= silent_after_ms(p)]
    return bool(there) and not silent, ", ".join(silent) or reader.say("no-reading")


def _mix(bay: BaySettings, known: Known, now_ms: Ms) -> tuple[bool, str]:
    today = day_of(now_ms, known.site.site.zone)
    fit = [
        c
        for c in known.calibrations
        if c.mix == bay.mix and c.fit_for == "release" and (c.valid_until is None or today <= c.valid_until)
    ]
    return bool(fit), bay.mix


def _reached(known: Known) -> tuple[bool, str]:
    """Return whether everybody who acts is reached: by a channel, whose newest message did not fail."""
    newest = {(d.recipient, d.channel): d for d in sorted(known.deliveries, key=lambda d: d.no)}
    failing = {d.recipient for d in newest.values() if d.state in NEEDS_A_PERSON}
    people = [r for r in known.site.recipient if r.role in MUST_BE_REACHED]
    missing = [r.id for r in people if not r.channels or r.id in failing]
    return bool(people) and not missing, ", ".join(missing) or "-"


def _weather(known: Known, now_ms: Ms, reader: Reader) -> tuple[bool, str]:
    """Return whether somebody tells what the first nights bring, and did so lately."""
    if known.weather_ms is None:
        return False, reader.say("never-heard")
    said = reader.say("shift-heard", hour=reader.hour(known.weather_ms, now_ms))
    return 0 <= now_ms - known.weather_ms <= STALE_H * HOUR_MS, said


def _ticked(bay: BaySettings, name: str, known: Known, now_ms: Ms, reader: Reader) -> tuple[bool, str]:
    seen = [a for a in known.acts if isinstance(a, FileDocument) and a.name == name and a.bay == bay.id]
    if not seen:
        return False, reader.say("nobody-has-it")
    hour = reader.hour(seen[-1].at_ms, now_ms)
    return 0 <= now_ms - seen[-1].at_ms <= TICK_HOLDS_MS, f"{seen[-1].who}, {hour}"
