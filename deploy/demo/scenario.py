"""The demo's story as data: when each bay was poured, what goes wrong with which logger, what people do when.

All of it is invented. Hours are the site's own, UTC-4 in November.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from enum import StrEnum
from pathlib import Path
from typing import Final

from shared.models.acts import Act, PourEnd, PourStart, Want, instant
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, BayId, LoggerId, Ms, PourId, SensorId

SITE_FILE: Final = Path(__file__).with_name("site.toml")
READINGS_FILE: Final = Path(__file__).with_name("readings.csv")

HALIFAX: Final = timezone(timedelta(hours=-4))
MONDAY_MS: Final[Ms] = int(datetime(2026, 11, 23, tzinfo=HALIFAX).timestamp()) * 1000


def monday(hour: int, minute: int = 0) -> Ms:
    """Return an instant of Monday 2026-11-23; hours above 23 run on into the days after."""
    return MONDAY_MS + hour * HOUR_MS + minute * MINUTE_MS


def tuesday(hour: int, minute: int = 0) -> Ms:
    """Return an instant of Tuesday 2026-11-24; hours above 23 run on."""
    return monday(24 + hour, minute)


def at(when: Ms) -> datetime:
    """Return an instant as an aware datetime of the site's zone."""
    return instant(when, HALIFAX)


FIRST_MS: Final = monday(4)
"""The virtual world begins."""
OPEN_MS: Final = tuesday(12)
"""The demo opens: T0."""
ENTERED_MS: Final = tuesday(12, 2)
"""The pours are entered: after the loggers have sent what they kept, so that none of them passes for silent."""
CLOSE_MS: Final = tuesday(48)
"""The demo ends, Thursday 00:00."""


class Spot(StrEnum):
    """A column of a virtual slab. The rim is the coldest and youngest of all and has no sensor."""

    INTERIOR = "interior"
    EDGE = "exposed edge"
    END = "last-placed end"
    RIM = "rim"


@dataclass(frozen=True, slots=True)
class Slab:
    """A virtual slab as it really was placed."""

    bay: BayId
    thickness_mm: float
    placed_c: float
    start_ms: Ms
    end_ms: Ms
    loggers_end_ms: Ms = 0
    """When the last logger was covered, if it was well before the last concrete."""
    covered_ms: tuple[Ms, Ms] = (0, 0)
    """From when to when something lay on it."""
    cover_m2_k_per_w: float = 0.0
    heated_ms: tuple[Ms, Ms] = (0, 0)
    """From when to when the space below was heated, ..."""
    below_c: float = 0.0
    """... and to what."""

    @property
    def placed_ms(self) -> Mapping[Spot, Ms]:
        """When each column was placed."""
        last = self.end_ms - 10 * MINUTE_MS
        logger = (self.loggers_end_ms or self.end_ms) - 10 * MINUTE_MS
        middle = (self.start_ms + logger) // 2
        return {Spot.INTERIOR: middle, Spot.EDGE: self.start_ms, Spot.END: logger, Spot.RIM: last}

    def cover_at(self, instant: Ms) -> float:
        """Return the cover's thermal resistance. [m2 K/W]"""
        return self.cover_m2_k_per_w if self.covered_ms[0] <= instant < self.covered_ms[1] else 0.0

    def below_at(self, instant: Ms, air_c: float) -> float:
        """Return the air below: the bay's where nothing is heated. [degC]"""
        return self.below_c if self.heated_ms[0] <= instant < self.heated_ms[1] else air_c


_BLANKETS: Final = (monday(16, 30), tuesday(8))
_TARPAULIN: Final = (tuesday(20, 45), tuesday(32))

SLABS: Final = (
    Slab(BayId("2-b1"), 100, 18.5, monday(5), monday(7), 0, _BLANKETS, 0.30),
    Slab(BayId("2-b2"), 100, 18.0, monday(7), monday(9), 0, _BLANKETS, 0.30),
    # The strip beyond the loggers waited for two late trucks; 11:30 is what was entered.
    Slab(BayId("2-b3"), 100, 18.0, monday(9, 30), monday(14, 30), monday(11, 30), _BLANKETS, 0.30),
    # Thin, late and not covered: the front reaches it before its 24 hours.
    Slab(BayId("3-b1"), 90, 17.0, monday(16, 15), monday(18, 50)),
    Slab(BayId("3-b2"), 100, 18.0, tuesday(4, 30), tuesday(6, 30)),
    Slab(BayId("3-b3"), 100, 18.5, tuesday(6), tuesday(8), 0, _TARPAULIN, 0.12),
)


@dataclass(frozen=True, slots=True)
class EnteredPour:
    """A pour as the superintendent enters it when the demo opens."""

    pour: PourId
    bay: BayId
    start_ms: Ms
    end_ms: Ms


POURS: Final = tuple(EnteredPour(PourId(f"{s.bay}-p1"), s.bay, s.start_ms, s.loggers_end_ms or s.end_ms) for s in SLABS)
"""The end of 2-b3 is entered three hours too early; its last ticket says so on Tuesday."""


WANTED: Final[Mapping[PourId, Ms]] = {PourId("3-b2-p1"): tuesday(24 + 9)}
"""By when the superintendent wants forms off; the front takes it away."""


@dataclass(frozen=True, slots=True)
class Silence:
    """A logger that is not heard from one hour to another."""

    logger: LoggerId
    from_ms: Ms
    to_ms: Ms
    kept: bool
    """It kept the readings and sends them at `to_ms`; otherwise it starts anew and they are lost."""


SILENCES: Final = (
    Silence(LoggerId("lg-05"), tuesday(2), tuesday(4), kept=False),
    Silence(LoggerId("lg-15"), tuesday(12, 10), tuesday(15, 40), kept=True),
)
OFFSETS_C: Final[Mapping[SensorId, float]] = {SensorId("lg-05.1"): 0.4}
"""Sensors that read too warm by so much."""
IN_AIR: Final[Mapping[SensorId, float]] = {SensorId("lg-18.1"): 0.6}
"""Sensors that came to lie above the concrete, and how much of their reading is the air's."""
NOISE_C: Final = 0.05
RESOLUTION_C: Final = 0.0625
SEED: Final = 20261124


def opening_acts() -> tuple[Act, ...]:
    """Return what the superintendent enters when the demo opens: every pour's start and end, and what is wanted."""
    now = at(ENTERED_MS)
    acts: list[Act] = []
    for p in POURS:
        acts.append(PourStart(at=now, who="super", scripted=True, bay=p.bay, pour=p.pour, happened=at(p.start_ms)))
        acts.append(PourEnd(at=now, who="super", scripted=True, pour=p.pour, happened=at(p.end_ms)))
    for pour, wanted_ms in WANTED.items():
        acts.append(Want(at=now, who="super", scripted=True, pour=pour, operation=STRIP, wanted=at(wanted_ms)))
    return tuple(acts)


def timed_acts() -> tuple[Act, ...]:
    """Return the acts that happen at an hour, whatever the board says."""
    return (
        PourEnd(
            at=at(tuesday(13, 5)),
            who="qc",
            scripted=True,
            pour=PourId("2-b3-p1"),
            happened=at(monday(14, 30)),
            why="last ticket of the pour: 14:30, not 11:30",
        ),
    )
