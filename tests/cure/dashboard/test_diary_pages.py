"""The daily log: what was done, decided and measured on one day of the site, and nothing of any other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

import pytest
from pages_support import NOW, SITE, Bench, bench_of
from store_support import make_calibration, opened_book
from told_support import show, stopped_story

from alerts.site_words import shipped
from cure.dashboard.diary import deeds
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from shared.catalogue import LANGUAGES
from shared.models.acts import Act, Cover, Lift, PourEnd, PutInForce, SecondCheck, Sign, instant
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS
from shared.models.decisions import HoldKind
from shared.models.people import Role


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        made = bench_of(book)
        show(made, stopped_story())
        made.board.done = [
            Cover(at=instant(NOW - DAY_MS), who="crew", pour="2-b1-p1", on=True),
            SecondCheck(
                at=instant(NOW - DAY_MS),
                who="qc",
                pour="2-b1-p1",
                mix="c32-f",
                ticket="T-7",
                end=instant(NOW - DAY_MS),
                loggers_alive=True,
                plan_seen=True,
            ),
            PutInForce(
                at=instant(NOW - DAY_MS),
                who="qc",
                calibration=make_calibration(),
                second_person="engineer",
                why="new cement",
            ),
            PourEnd(at=instant(NOW - MINUTE_MS), who="qc", pour="2-b1-p1", happened=instant(NOW - 2 * HOUR_MS)),
        ]
        yield made


def test_a_day_has_its_decisions_deeds_and_temperatures(bench: Bench) -> None:
    text = bench.signed_in(Role.VIEWER).get("/diary").text
    assert "Daily log, Tue 25 Nov 2025" in text
    assert "So far, to Tue 25 Nov 2025 18:00" in text
    assert "<b>16:00</b> qc: pour end (2-b1-p1), entered Tue 25 Nov 2025 17:59" in text
    assert "cover" not in text.partition("What people did")[2]
    assert "THIS DOES NOT STAND ANY MORE" in text
    assert "concrete 14.0 °C (57.2 °F) to 18.0 °C (64.4 °F)" in text
    assert "air 8.0 °C (46.4 °F) to 8.0 °C (46.4 °F)" in text
    assert 'href="/diary?day=2025-11-24"' in text
    assert "2025-11-26" not in text
    assert "26 Nov" not in text


def test_another_day_has_its_own_and_one_that_is_none_is_today(bench: Bench) -> None:
    viewer = bench.signed_in(Role.VIEWER)
    text = viewer.get("/diary?day=2025-11-24").text
    assert "crew: cover (2-b1-p1, laid on)" in text
    seen = "Mon 24 Nov 2025 18:00 UTC\N{MINUS SIGN}04:00, loggers seen alive, plan seen"
    assert f"qc: second check (2-b1-p1, c32-f, T-7, {seen})" in text
    assert "qc: calibration put in force (c32-f, Version 1, engineer, new cement)" in text
    assert "pour end" not in text
    assert "The whole day" in text
    assert 'href="/diary?day=2025-11-25"' in text
    for day in ("", "tomorrow", "2031-01-01", "2025-13-01"):
        assert "Daily log, Tue 25 Nov 2025" in viewer.get(f"/diary?day={day}").text
    assert "concrete" not in viewer.get("/diary?day=2025-11-01").text.partition("<main")[2].partition("</main")[0]


def test_operations_holds_and_temperatures_of_an_act_are_said_as_elsewhere_on_the_pages() -> None:
    at = instant(NOW - MINUTE_MS)
    acts: list[Act] = [
        Sign(at=at, who="qc", pour="2-b1-p1", operations=("strip", "walk")),
        Lift(at=at, who="qc", pour="2-b1-p1", hold=HoldKind.FREEZE_SUSPECTED, surface_c=4.5, why="looked"),
    ]
    reader = Reader(words()["fr"], shipped()["fr"], "US", SITE.site.zone)
    said = [deed.said.replace("\N{SOFT HYPHEN}", "") for deed in deeds(acts, (0, NOW), reader)]
    assert said == ["2-b1-p1, Décoffrer, Marcher", "2-b1-p1, gel possible, 40.1 °F (4.5 °C), looked"]


def test_every_act_has_words(bench: Bench) -> None:
    kinds = [act.model_fields["kind"].default.replace("_", "-") for act in get_args(Act)]
    assert len(kinds) > 20
    assert [k for k in kinds for language in LANGUAGES if not words()[language].has(f"act-{k}")] == []
