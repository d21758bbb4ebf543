"""The daily log for the site diary: what was done, decided and measured on one day of the site. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

import numpy as np

from cure.bay import AIR_ZONES
from cure.credit import between
from cure.dashboard.pour_view import PourView
from cure.dashboard.reader import Reader
from shared.models.acts import Act, act_to, ms
from shared.models.base import Ms
from shared.models.calibration import Calibration
from shared.shifts import hour_of

_NOT_SAID: Final = frozenset({"kind", "at", "who", "scripted", "happened", "requirement", "photo", "answered"})
"""Fields of an act that stand in columns of their own, or that nobody reads in a line."""


@dataclass(frozen=True, slots=True)
class Deed:
    """One thing that a person did."""

    hour: str
    entered: str
    """When it was entered, if it had happened earlier; else ""."""
    who: str
    what: str
    said: str


@dataclass(frozen=True, slots=True)
class Measured:
    """What the sensors of one pour read on the day."""

    bay: str
    pour: str
    air: str
    concrete: str


def ends_of(day: date, zone: str) -> tuple[Ms, Ms]:
    """Return when a day of the site begins, and when the next one does."""
    return hour_of(day, "00:00", zone), hour_of(day + timedelta(days=1), "00:00", zone)


def deeds(acts: Sequence[Act], ends: tuple[Ms, Ms], reader: Reader) -> list[Deed]:
    """Return what people did on a day, by the hour at which it happened."""
    found = [(_happened_ms(act), act) for act in acts]
    ordered = sorted((of for of in found if ends[0] <= of[0] < ends[1]), key=lambda of: of[0])
    return [_deed(at_ms, act, reader) for at_ms, act in ordered]


def _happened_ms(act: Act) -> Ms:
    happened = getattr(act, "happened", None)
    return act.at_ms if happened is None else ms(happened)


def _deed(at_ms: Ms, act: Act, reader: Reader) -> Deed:
    body = act_to(act)
    said = ", ".join(_plain(name, getattr(act, name), reader) for name in body if name not in _NOT_SAID)
    entered = reader.whole_hour(act.at_ms) if act.at_ms != at_ms else ""
    return Deed(reader.hour(at_ms, at_ms), entered, act.who, reader.say(f"act-{body['kind'].replace('_', '-')}"), said)


def _plain(name: str, value: object, reader: Reader) -> str:
    """Return one field of an act as people say it."""
    if isinstance(value, bool):
        return reader.worded("deed-yes" if value else "deed-no", name.replace("_", "-"))
    if isinstance(value, datetime):
        return reader.whole_hour(ms(value))
    if isinstance(value, Calibration):
        return f"{value.mix}, {reader.say('version-name', version=str(value.version))}"
    if isinstance(value, tuple | list):
        return ", ".join(_plain(name, part, reader) for part in value)
    if isinstance(value, float) and name.endswith("_c"):
        return reader.number(value, "degC")
    text = str(value)
    # Zones and holds are known by their names; what a person wrote stays as it was written.
    return reader.operation(text) if name in {"operation", "operations"} else reader.known(text)


def measured(views: Sequence[PourView], ends: tuple[Ms, Ms], reader: Reader) -> Iterator[Measured]:
    """Yield the lowest and highest reading of each pour that was read on a day; nothing is made up for what was not."""
    for view in views:
        pour = view.case.pour
        air, concrete = (_span(view, ends, reader, air=air) for air in (True, False))
        if air or concrete:
            none = reader.say("no-reading")
            yield Measured(pour.bay, pour.id, air or none, concrete or none)


def _span(view: PourView, ends: tuple[Ms, Ms], reader: Reader, *, air: bool) -> str:
    read = [between(s, ends[0] - 1, ends[1] - 1).milli_c for p, s in view.placed() if (p.zone in AIR_ZONES) is air]
    whole = np.concatenate([*read, np.empty(0, np.int64)]) / 1000.0
    if not len(whole):
        return ""
    low, high = (reader.number(float(c), "degC") for c in (whole.min(), whole.max()))
    return reader.say("diary-span", low=low, high=high)
