"""The check of a sensor that has just been placed: is it alive, where it should be, and plausible? Pure.

It releases nothing and shuts nothing: it tells the installer, while he still stands there, what the rounds would find
out hours later. The limits are our judgement, but for the temperature of fresh concrete.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import median
from typing import Final

from cure.bay import AIR_ZONES
from cure.loggers import ago, is_low, is_weak
from cure.standin import silent_after_ms
from shared.models.base import HOUR_MS, MINUTE_MS, MilliC, Ms, SensorId
from shared.models.decisions import Placement, Pour
from shared.models.readings import Heard, Reading, Reason

FRESH_MILLI_C: Final = (5_000, 35_000)
"""Of fresh concrete (common practice, no source)."""
FRESH_FOR_MS: Final = 12 * HOUR_MS
"""Later it has warmed by itself or cooled: only a wrong unit or a broken sensor is no concrete then (our judgement)."""
CURING_MILLI_C: Final = (-20_000, 80_000)
AS_AIR_MILLI_C: Final = 5_000
"""Before the pour a sensor is as warm as the air, within so much: sun and night sky."""
OUTDOORS_MILLI_C: Final = (-40_000, 50_000)
"""Where no sensor of the bay measures the air."""
CLOCK_MS: Final = 2 * MINUTE_MS
FASTEST, SLOWEST = 0.5, 1.25
"""Of the interval that is set."""
LOOKED_AT: Final = 12
"""Newest readings of a sensor."""
RISE_MILLI_C: Final = 2_000
HAND_IS_WARMER_UNTIL_MILLI_C: Final = 27_000
"""Above it a hand, 30 to 34 degC, hardly warms a sensor: then it is cooled, with snow or cold water."""


class Found(StrEnum):
    """What a check found."""

    OK = "OK"
    NOT_YET = "NOT YET"
    NOT_OK = "NOT OK"


@dataclass(frozen=True, slots=True)
class Check:
    """One thing looked at."""

    name: str
    found: Found
    text: str
    """What was found, and how to mend it."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """What is known of one sensor."""

    sensor: SensorId
    placement: Placement | None
    readings: Sequence[Reading]
    """Its newest, ascending."""
    heard: Heard | None = None
    air_milli_c: MilliC | None = None
    """Newest of the bay's air."""
    pour: Pour | None = None
    """Open in its bay."""
    refused: Reason | None = None
    """For what its messages of the last day were refused most; None: none was."""


def checks(of: Spoken, now_ms: Ms) -> tuple[Check, ...]:
    """Return what is found about a sensor, in the order in which it is mended."""
    if of.placement is None:
        place = f"it lies nowhere, so nothing counts: slabhour logger place {of.sensor} BAY ZONE --who YOU"
        return (Check("place", Found.NOT_OK, place),)
    where = _place(of.placement)
    if not of.readings:
        return where, _never(of)
    return where, _alive(of.placement, of, now_ms), _plausible(of.placement, of), *_manners(of.placement, of)


def verdict(found: Sequence[Check]) -> Found:
    """Return the worst that was found."""
    every = {check.found for check in found}
    return next(f for f in (Found.NOT_OK, Found.NOT_YET, Found.OK) if f in every or f is Found.OK)


def line(sensor: SensorId, found: Sequence[Check]) -> str:
    """Return one line for the installer: the verdict first, what is wrong before what is right."""
    order = {Found.NOT_OK: 0, Found.NOT_YET: 1, Found.OK: 2}
    ordered = sorted(found, key=lambda check: order[check.found])
    return f"{sensor} {verdict(found)}: {'; '.join(check.text for check in ordered)}"


def _place(p: Placement) -> Check:
    deep = "" if p.depth_mm is None else f", {p.depth_mm} mm deep"
    there = "" if p.position is None else f", {p.position}"
    return Check("place", Found.OK, f"in bay {p.bay}, {p.zone}{deep}{there}")


def _never(of: Spoken) -> Check:
    if of.refused is Reason.UNKNOWN_SENSOR:
        return Check("alive", Found.NOT_YET, "heard before it was placed here: its next message counts")
    if of.refused is not None:
        return Check("alive", Found.NOT_OK, f"its messages are refused, most for: {of.refused}; set the logger right")
    return Check("alive", Found.NOT_YET, "nothing heard: is it on, and does it send to the right address and topic?")


def _alive(p: Placement, of: Spoken, now_ms: Ms) -> Check:
    newest = of.readings[-1]
    shown = f"{newest.milli_c / 1000:.1f} degC {ago(now_ms - newest.taken_ms)} ago"
    if now_ms - newest.taken_ms > silent_after_ms(p):
        return Check("alive", Found.NOT_OK, f"silent, last {shown}: look at battery, cable, radio")
    if newest.taken_ms < p.from_ms:
        return Check("alive", Found.NOT_YET, f"{shown}, none since it was placed here")
    return Check("alive", Found.OK, shown)


def _plausible(p: Placement, of: Spoken) -> Check:
    value, began = of.readings[-1].milli_c, of.pour is not None and of.readings[-1].taken_ms >= of.pour.start_ms
    if p.zone not in AIR_ZONES and began and of.pour is not None and _cures(of.pour, of.readings[-1].taken_ms):
        limits, what, mend = CURING_MILLI_C, "concrete", "is its unit right?"
    elif p.zone not in AIR_ZONES and began:
        limits, what, mend = FRESH_MILLI_C, "fresh concrete", "is it in the concrete, is its unit right?"
    elif of.air_milli_c is not None and p.zone not in AIR_ZONES:
        limits = of.air_milli_c - AS_AIR_MILLI_C, of.air_milli_c + AS_AIR_MILLI_C
        what, mend = "the air of the bay", "in the sun, in another bay, or is its unit wrong?"
    else:
        limits, what, mend = OUTDOORS_MILLI_C, "weather", "is its unit right?"
    span = f"{limits[0] / 1000:.0f} to {limits[1] / 1000:.0f} degC"
    if limits[0] <= value <= limits[1]:
        return Check("plausible", Found.OK, f"as {what}, {span}")
    return Check("plausible", Found.NOT_OK, f"{value / 1000:.1f} degC is not {what}, {span}: {mend}")


def _cures(pour: Pour, at_ms: Ms) -> bool:
    """Return whether the last concrete is no longer fresh."""
    return pour.end_ms is not None and at_ms - pour.end_ms > FRESH_FOR_MS


def _manners(p: Placement, of: Spoken) -> tuple[Check, ...]:
    return _clock(of), _interval(p, of), _battery(of), *_signal(of)


def _clock(of: Spoken) -> Check:
    if of.refused in {Reason.CLOCK_FUTURE, Reason.CLOCK_PAST}:
        return Check("clock", Found.NOT_OK, f"messages refused, {of.refused}: set its clock")
    came = {r.received_ms for r in of.readings}
    if len(of.readings) > 1 and all(one.received_ms == next_.taken_ms for one, next_ in pairwise(of.readings)):
        return Check("clock", Found.OK, "it has no clock, the hour of arrival counts")
    # Of each message its newest reading: what a buffer held is late by itself.
    late_ms = min(min(at - r.taken_ms for r in of.readings if r.received_ms == at) for at in came)
    if abs(late_ms) <= CLOCK_MS:
        return Check("clock", Found.OK, f"clock within {max(1, abs(late_ms) // 1000)} s")
    return Check("clock", Found.NOT_OK, f"{ago(abs(late_ms))} off: set its clock, or let it send at once")


def _interval(p: Placement, of: Spoken) -> Check:
    steps = [(b.taken_ms - a.taken_ms) / 1000 for a, b in pairwise(of.readings)]
    if not steps:
        return Check("interval", Found.NOT_YET, f"one reading so far: look again in {ago(p.interval_s * 1000)}")
    every_s = median(steps)
    if FASTEST * p.interval_s <= every_s <= SLOWEST * p.interval_s:
        return Check("interval", Found.OK, f"every {ago(round(every_s * 1000))}")
    not_so = f"every {ago(round(every_s * 1000))}, not every {ago(p.interval_s * 1000)} as set"
    return Check("interval", Found.NOT_OK, f"{not_so}: set the logger, or place it with --interval-s")


def _battery(of: Spoken) -> Check:
    percent = None if of.heard is None else of.heard.battery_percent
    if percent is None:
        return Check("battery", Found.OK, "it says nothing of its battery")
    if is_low(percent):
        return Check("battery", Found.NOT_OK, f"battery {percent:.0f} %: change it now, not when it is cast in")
    return Check("battery", Found.OK, f"battery {percent:.0f} %")


def _signal(of: Spoken) -> tuple[Check, ...]:
    """Return what is found about its radio, if it says anything of that."""
    level = None if of.heard is None else of.heard.signal_db
    if level is None:
        return ()
    if is_weak(level):
        said = (
            f"signal {level:.0f} dBm is weak: wet concrete takes more of it, move the gateway nearer or the antenna out"
        )
        return (Check("signal", Found.NOT_OK, said),)
    return (Check("signal", Found.OK, f"signal {level:.0f} dBm"),)


@dataclass(frozen=True, slots=True)
class Warmth:
    """How the check by hand stands."""

    found: Found
    text: str


def hand_warmth(
    sensor: SensorId, readings: Mapping[SensorId, Sequence[Reading]], began_ms: Ms, now_ms: Ms, wait_ms: int
) -> Warmth:
    """Return whether a sensor felt the hand that holds it; another one that felt it instead is named.

    Args:
        sensor: the one in the hand.
        readings: of it and of others that may have been taken for it, ascending, from before `began_ms` on.
        began_ms: when it was taken into the hand.
        now_ms: site time.
        wait_ms: how long to wait.
    """
    own = readings.get(sensor, ())
    if _moved(own, began_ms) is True:
        return Warmth(Found.OK, f"{sensor} felt it: {_shown(own, began_ms)}")
    others = [other for other, said in readings.items() if other != sensor and _moved(said, began_ms) is True]
    if others:
        instead = f"{', '.join(sorted(others))} felt it, {sensor} did not: are they exchanged?"
        return Warmth(Found.NOT_OK, instead)
    if now_ms - began_ms >= wait_ms:
        return Warmth(Found.NOT_OK, f"{sensor} felt nothing in {ago(wait_ms)}: {_shown(own, began_ms)}")
    left_min = -(-(began_ms + wait_ms - now_ms) // MINUTE_MS)
    do = "hold it in your hand" if _warms(own, began_ms) else "it is warm: put it into snow or cold water"
    return Warmth(Found.NOT_YET, f"{do}; {_shown(own, began_ms)}; {left_min} min left")


def _base(said: Sequence[Reading], began_ms: Ms) -> Reading | None:
    """Return the newest reading from before it was taken into the hand, else its first."""
    before = [r for r in said if r.taken_ms <= began_ms]
    return before[-1] if before else next(iter(said), None)


def _warms(said: Sequence[Reading], began_ms: Ms) -> bool:
    base = _base(said, began_ms)
    return base is None or base.milli_c <= HAND_IS_WARMER_UNTIL_MILLI_C


def _moved(said: Sequence[Reading], began_ms: Ms) -> bool | None:
    """Return whether it went the way that a hand, or cold water, takes it; None: nothing came since."""
    base, since = _base(said, began_ms), [r.milli_c for r in said if r.taken_ms > began_ms]
    if base is None or not since:
        return None
    by = max(since) - base.milli_c if _warms(said, began_ms) else base.milli_c - min(since)
    return by >= RISE_MILLI_C


def _shown(said: Sequence[Reading], began_ms: Ms) -> str:
    base = _base(said, began_ms)
    if base is None:
        return "no reading"
    newest = said[-1]
    if newest is base:
        return f"{base.milli_c / 1000:.1f} degC, no reading since"
    return f"{base.milli_c / 1000:.1f} to {newest.milli_c / 1000:.1f} degC"
