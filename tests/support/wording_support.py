"""Messages of every kind: plain, with the longest names, with US units, with next to no facts.

`python tests/support/wording_support.py` writes down how every text reads now; `wording_golden.py` has the form.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from alerts_support import make_told
from store_support import T0

from alerts.wording import words
from shared.catalogue import LANGUAGES
from shared.models.base import HOUR_MS, PourId
from shared.models.messages import Message, MessageKind, Text

WITHOUT_OPERATION = {
    MessageKind.FREEZE_SUSPECTED: "",
    MessageKind.FREEZE_LOCKED: "",
    MessageKind.HOLD: "",
    MessageKind.LOGGER_SILENT: "lg-01.1",
    MessageKind.TOO_HOT: "lg-01.1",
    MessageKind.TOO_STEEP: "",
    MessageKind.FREEZING_AHEAD: "",
    MessageKind.DRYING_RISK: "",
    MessageKind.LOGGER_DOUBTFUL: "lg-01.1",
}
"""Kinds that are about a pour or a sensor, with their subject."""
OF_SITE = frozenset(
    {
        MessageKind.COVER_TONIGHT,
        MessageKind.LOW_BATTERY,
        MessageKind.CALIBRATION,
        MessageKind.DELIVERY_FAILED,
        MessageKind.IN_DOUBT,
        MessageKind.MORNING_LIST,
        MessageKind.HANDOVER,
        MessageKind.TEST,
    }
)
"""Kinds that are about the whole site."""
OPERATIONS = ("strip", "walk", "load", "", "uncover")
LONG: dict[str, Any] = {
    "site": "The longest name of a house that anybody could think of " * 3,
    "site_id": "s" * 30 + "-9",
    "floor": "mezzanine between the second and the third floor, east wing",
    "bay": "b" * 30 + "-7",
    "pour": "p" * 46 + "-3",
    "zone": "America/St_Johns",
    "sensor": "l" * 32 + ".12",
    "owner": "e" * 32,
    "recipient": "r" * 32,
    "mix": "m" * 32,
    "first": "b" * 30 + "-7",
    "message": 9_999_998,
    "exclusions": "grid 7 edge, stair opening, the two panels beside the hoist and the whole of the cantilever",
    "load_kpa": 19.97,
}
MANY_BAYS = [f"{'b' * 30}-{n}" for n in range(9)]
CHART = {
    "hours": [0.0, 6.0, 12.0, 18.0, 24.0],
    "coldest_c": [18.0, 11.29, 6.5, 5.1, 8.0],
    "bound_mpa": [0.0, 0.4, 1.6, 2.9, 3.59],
    "limit_mpa": 3.5,
}
_ROW = {"bay": "2-b1", "pour": "2-b1-p1", "operation": "strip", "since_ms": T0 - HOUR_MS, "exclusions": "none"}
_LISTS: dict[str, Any] = {
    "released": [
        {**_ROW, "load_kpa": None, "exclusions": "grid 7 edge"},
        {**_ROW, "operation": "load", "load_kpa": 1.97},
    ],
    "expected": [
        {**_ROW, "bay": "2-b2", "expected_ms": T0 + 5 * HOUR_MS, "cause": "concrete below the limit: 3.5 h so far"},
        {**_ROW, "bay": "2-b3", "expected_ms": None, "cause": "no calibration"},
    ],
    "look_first": ["2-b1: hold, freeze suspected"],
}
OWN: dict[MessageKind, dict[str, Any]] = {
    MessageKind.RELEASED: {
        "chart": CHART,
        "requirement": "24 counted hours at or above 5.0 °C (41.0 °F); lower bound of strength 3.5 MPa (508 psi)",
        "requirement_version": 3,
    },
    MessageKind.COLD_DELAY: {
        "wanted_ms": T0 + 2 * HOUR_MS,
        "from_shift_ms": T0 - 5 * HOUR_MS,
        "to_shift_ms": T0 + 19 * HOUR_MS,
        "moved": "later",
        "saves": "cover",
        "saves_by_ms": T0 + 4 * HOUR_MS,
    },
    MessageKind.HOLD: {"owner_people": ["ann", "bo"], "scripted": True},
    MessageKind.TOO_HOT: {"found_c": 71.24, "limit_c": 70.0},
    MessageKind.TOO_STEEP: {"found_c": 22.01, "limit_c": 20.0, "reason": "core against edge"},
    MessageKind.FREEZING_AHEAD: {
        "chance_percent": 35.4,
        "from_ms": T0 + 10 * HOUR_MS,
        "coldest_c": 0.49,
        "how": "cover it before dark",
    },
    MessageKind.DRYING_RISK: {"reason": "dry wind on a fresh surface", "how": "fog or cover it"},
    MessageKind.COVER_TONIGHT: {
        "bays": [
            {"bay": "2-b1", "pour": "2-b1-p1", "area_m2": 120.0, "expected_low_c": -3.04, "covered": False},
            {"bay": "2-b2", "pour": "2-b2-p1", "area_m2": None, "expected_low_c": None, "covered": True},
        ],
        "stock_m2": 80.9,
        "need_m2": 120.2,
        "first": "2-b1",
        "by_ms": T0 + 4 * HOUR_MS,
    },
    MessageKind.LOGGER_DOUBTFUL: {"reason": "flat for six hours"},
    MessageKind.LOW_BATTERY: {"loggers": [{"logger": "lg-01", "percent": 9.6}, {"logger": "lg-02", "percent": None}]},
    MessageKind.CALIBRATION: {"mix": "c32-f", "reason": "last checked 90 days ago", "how": "break two cylinders"},
    MessageKind.DELIVERY_FAILED: {"message": 40, "recipient": "crew", "kind": "released", "why": "no such mailbox"},
    MessageKind.IN_DOUBT: {"reason": "the clock jumped", "how": "set the clock, then slabhour resume clock"},
    MessageKind.MORNING_LIST: _LISTS,
    MessageKind.HANDOVER: {
        **_LISTS,
        "holds": ["2-b2: conflicting readings, qc"],
        "under_way": ["2-b3: strip since 10:00"],
        "deliveries": ["no. 40 to crew"],
    },
    MessageKind.TEST: {"recipient": "qc", "channel": "email"},
}
"""Facts that only one kind has."""


def told(kind: MessageKind, subject: str = "", no: int = 41, **facts: Any) -> Message:
    """Return a message as cure would write it, with its line in the log."""
    about = "" if kind in OF_SITE or kind in WITHOUT_OPERATION else subject
    own = {**OWN.get(kind, {}), "operation": about}
    message = make_told(kind, no, subject=subject)
    said = {**message.facts, **own, **facts}
    pour = "" if kind in OF_SITE else str(said["pour"])
    return replace(message, pour=PourId(pour), facts=said, log_seq=77, log_hash="3f9a0c51d2e8b746" * 4)


@cache
def texts(kind: MessageKind, operation: str, done: bool, language: str = "en") -> list[Text]:
    """Return plain, longest, US and bare texts, each once and repeated."""
    return [
        words(m, repeat=repeat, language=language) for m in variants(kind, operation, done) for repeat in (False, True)
    ]


@cache
def variants(kind: MessageKind, operation: str, done: bool) -> tuple[Message, ...]:
    """Return the message plainly, with the longest names, in US units without exclusions, with next to no facts."""
    plain = told(kind, operation, done=done)
    long = told(kind, operation, done=done, no=9_999_999, **longest(kind))
    us = told(kind, operation, done=done, units="US", exclusions="none", not_released=[])
    bare = replace(plain, facts={"operation": operation})
    return plain, long, us, bare


def longest(kind: MessageKind) -> dict[str, Any]:
    """Return the longest names, in the shape that the kind's facts have."""
    return LONG | ({"bays": MANY_BAYS} if kind is MessageKind.KEEP_OFF else {})


def subjects(kind: MessageKind) -> tuple[str, ...]:
    """Return what messages of a kind are about."""
    if kind in OF_SITE or kind is MessageKind.KEEP_OFF:
        return ("strip",) if kind is MessageKind.KEEP_OFF else ("",)
    return (WITHOUT_OPERATION[kind],) if kind in WITHOUT_OPERATION else OPERATIONS


def every() -> list[tuple[MessageKind, str, bool]]:
    """Return every kind with its subjects, a withdrawal also after the deed."""
    done = {MessageKind.WITHDRAWAL: (False, True)}
    return [(k, s, d) for k in MessageKind for s in subjects(k) for d in done.get(k, (False,))]


EVERY_LANGUAGE = [(*one, language) for one in every() for language in LANGUAGES]

if __name__ == "__main__":
    from wording_golden import write

    write()
