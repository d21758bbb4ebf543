"""A pour over a few cold days with a hole, tests and a dead sensor, as its charts show it; reading them back."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final
from xml.etree import ElementTree as ET

from cure_support import END_MS, Profile, make_case, recorded
from store_support import AIR, EDGE, END, INSIDE

from cure.dashboard.pour_view import PourView, viewed
from shared.models.base import HOUR_MS, SensorId
from shared.models.decisions import TestResult
from shared.models.readings import Series
from shared.ports import PourCase


def warming(peak_c: float, ambient_c: float) -> Profile:
    """Return how a slab placed at 14 degC warms, cools to the air and swings with the day."""

    def at(hours: float) -> float:
        hydration = peak_c * math.exp(-(((hours - 13.0) / 11.0) ** 2))
        fallen = ambient_c + (14.0 - ambient_c) * math.exp(-hours / 20.0)
        return fallen + hydration + 2.5 * math.sin((hours + 3.0) * math.pi / 12.0)

    return at


PROFILES: Final[Mapping[SensorId, Profile]] = {
    EDGE: warming(8.0, 4.0),
    INSIDE: warming(19.0, 6.5),
    END: warming(13.0, 5.5),
    AIR: lambda h: 1.0 + 4.0 * math.sin((h + 2.0) * math.pi / 12.0),
}


def pullouts(hours: float, *mpa: float) -> tuple[TestResult, ...]:
    """Return tests of the concrete so many hours after the end of the pour."""
    at_ms = END_MS + round(hours * HOUR_MS)
    return tuple(TestResult("pullout", one, None, True, "bay middle", at_ms, "qc") for one in mpa)


def cold_pour(hours: float = 70.0, **changes: Any) -> PourView:
    """Return a pour whose edge was not read from 30 to 36 h, and whose last-placed end fell silent at 60 h."""
    case: PourCase = replace(make_case(), tests=pullouts(50.0, 5.2, 6.6, 6.1))
    readings: dict[SensorId, Series] = {
        EDGE: recorded(PROFILES[EDGE], hours, from_h=-0.75, but=(30, 36)),
        INSIDE: recorded(PROFILES[INSIDE], hours, from_h=-0.75),
        END: recorded(PROFILES[END], min(hours, 60.0), from_h=-0.75),
        AIR: recorded(PROFILES[AIR], hours, from_h=-0.75),
    }
    elapsed_ms = round(hours * HOUR_MS)
    return viewed(replace(case, **changes), readings, END_MS + elapsed_ms, elapsed_ms=elapsed_ms)


def picture(svg: str) -> ET.Element:
    """Return a chart as a tree; one that is not well-formed fails."""
    return ET.fromstring(svg)  # noqa: S314 - our own text


def places(path: str) -> list[list[tuple[float, float]]]:
    """Return the places of each stretch of a line, read back from its path. [units]"""
    found = []
    for stretch in re.findall(r"M([^M]+)", path):
        first, rest = stretch.split("l")
        x, y = map(int, re.findall(r"-?\d+", first))
        steps = [int(n) for n in re.findall(r"-?\d+", rest)]
        at = [(x, y)]
        for right, below in zip(steps[::2], steps[1::2], strict=True):
            x, y = x + right, y + below
            at.append((x, y))
        found.append([(across / 10.0, down / 10.0) for across, down in at])
    return found


def lines(svg: str) -> dict[str, list[list[tuple[float, float]]]]:
    """Return the places of every line of a chart, by its name."""
    drawn = [p for p in picture(svg).iter() if p.get("data-name") is not None]
    return {str(p.get("data-name")): places(str(p.get("d"))) for p in drawn}


def words(svg: str) -> list[str]:
    """Return every text of a chart."""
    return [str(t.text) for t in picture(svg).iter() if t.tag.endswith("}text")]
