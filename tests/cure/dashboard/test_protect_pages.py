"""Covers and heating by taps on a bay's page."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pages_support import NOW, Bench, row
from store_support import BAY

from shared.models.acts import Cover, Heat, ms
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.people import Role

POUR = f"{BAY}-p1"


def kept(bench: Bench, **memory: Any) -> None:
    found = row()
    bench.board.rows = [replace(found, state=replace(found.state, memory=memory))]


def send(bench: Bench, what: str, **form: str) -> Any:
    browser = bench.signed_in(Role.CREW)
    return browser.post(f"/bay/{BAY}/{what}", {"csrf": bench.csrf(browser), "pour": POUR, **form})


@pytest.mark.parametrize(
    ("memory", "said", "offered"),
    [
        ({}, ("Nobody has entered a cover. Nobody has entered heating below.",), ("laid on", "below is on")),
        (
            {"covers": [[NOW - HOUR_MS, None]], "heated": [[NOW - 2 * HOUR_MS, None, 10.0]]},
            ("Covered since 17:00. Heated below since 16:00, to 10.0 °C (50.0 °F).",),
            ("taken off", "below is off"),
        ),
        (
            {"covers_said": [[NOW - 5 * HOUR_MS, NOW - HOUR_MS]], "heated": [[NOW - 2 * HOUR_MS, None, None]]},
            ("Uncovered since 17:00. Heated below since 16:00.",),
            ("laid on", "below is off"),
        ),
    ],
)
def test_a_bay_says_how_it_is_protected_and_offers_the_other_state(
    bench: Bench, memory: dict[str, Any], said: tuple[str, ...], offered: tuple[str, ...]
) -> None:
    kept(bench, **memory)
    text = bench.signed_in(Role.CREW).get(f"/bay/{BAY}").text
    assert all(words in text for words in (*said, *offered))
    seen = bench.signed_in(Role.VIEWER).get(f"/bay/{BAY}").text
    assert said[0] in seen
    assert f"/bay/{BAY}/cover" not in seen


def test_a_tap_is_the_act_of_the_command_line(bench: Bench) -> None:
    assert send(bench, "cover", on="yes", earlier="17:30").status_code == 303
    assert send(bench, "cover", on="no", earlier="").status_code == 303
    assert send(bench, "heat", on="yes", earlier="", below="50", unit="degF").status_code == 303
    assert send(bench, "heat", on="no", earlier="", below="5").status_code == 303
    on, off, warm, cold = bench.acts
    assert isinstance(on, Cover)
    assert on.happened is not None
    assert (on.on, ms(on.happened), on.pour) == (True, NOW - 30 * MINUTE_MS, POUR)
    assert off == Cover(at=off.at, who="crew", pour=POUR, on=False)
    assert warm == Heat(at=warm.at, who="crew", pour=POUR, on=True, below_c=10.0)
    assert cold == Heat(at=cold.at, who="crew", pour=POUR, on=False)


@pytest.mark.parametrize(
    ("what", "form"),
    [
        ("cover", {"on": "yes", "pour": "2-b1-p0"}),
        ("cover", {"on": "perhaps"}),
        ("heat", {"on": "yes", "below": "50"}),
        ("heat", {"on": "yes", "below": "warm"}),
        ("heat", {"on": "yes", "earlier": "soon"}),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_done(bench: Bench, what: str, form: dict[str, str]) -> None:
    assert send(bench, what, **form).status_code == 409
    assert bench.acts == []
