"""What is held of a site's weather, and what is wrong with it. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from shared.models.base import HOUR_MS, Ms
from shared.models.readings import Series
from shared.models.weather import WeatherHeard, WeatherIssue

STALE_H: Final = 12.0
"""A forecast that is older is told and widened, ..."""
USELESS_H: Final = 72.0
"""... and one as old as this counts for nothing (all our judgement)."""


@dataclass(frozen=True, slots=True)
class Held:
    """What is held of the weather of a site."""

    source: str | None
    """None: the site file names none."""
    issues: tuple[WeatherIssue, ...] = ()
    """As they came, the newest last."""
    heard: WeatherHeard | None = None

    @property
    def newest(self) -> WeatherIssue | None:
        """The issue that counts."""
        return self.issues[-1] if self.issues else None

    def age_h(self, now_ms: Ms) -> float:
        """Return the hours since the newest was made; infinite: there is none."""
        return math.inf if self.newest is None else max(0.0, (now_ms - self.newest.issued_ms) / HOUR_MS)


@dataclass(frozen=True, slots=True)
class OwnAir:
    """The air over a bay as its own sensors have it."""

    name: str
    series: Series


@dataclass(frozen=True, slots=True)
class NoSky:
    """Why nothing can be said of the air to come, and how to mend that."""

    reason: str
    how: str


def wrongs(held: Held, now_ms: Ms) -> tuple[str, ...]:
    """Return in words what is wrong with what is held: nothing, stale, left out, failing; nothing wrong: empty."""
    if held.source is None:
        return ()
    found = []
    age_h, newest, heard = held.age_h(now_ms), held.newest, held.heard
    if newest is None:
        found.append(f"no usable weather of {held.source} has come yet")
    elif not age_h < USELESS_H:
        found.append(f"the weather of {held.source} was made {age_h:.0f} h ago: it counts for nothing any more")
    elif age_h > STALE_H:
        found.append(f"the weather of {held.source} was made {age_h:.0f} h ago: it is widened")
    if newest is not None:
        found += [f"left out of it: {one}" for one in newest.left_out]
    if heard is not None and heard.why:
        found.append(f"the last {heard.failures} from {held.source} could not be used: {heard.why}")
    return tuple(found)
