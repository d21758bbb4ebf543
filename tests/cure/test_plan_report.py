"""A plan in words and JSON: expected, never released."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

from planner_support import JUDGED, MONDAY_MS, answering, pour, weather

from cure.forecast import Slabwork
from cure.plan_report import (
    case_json,
    case_lines,
    chain_json,
    chain_lines,
    protection_said,
    search_json,
    search_lines,
)
from cure.planner import Offer, Protection, Question, least_protection, moved, tried
from cure.turnaround import WARM_C, Next, Site, chain
from shared.models.base import DAY_MS, HOUR_MS, STRIP, BayId

ZONE = "America/Halifax"
WORK = pour(weather(6.0, 14.0))
WANTED = Question(JUDGED, STRIP, MONDAY_MS + 30 * HOUR_MS)


def test_a_protection_is_said_in_words() -> None:
    assert protection_said(Protection()) == "no protection"
    assert protection_said(Protection(0.35, 2.0, 24.0, 10.0)) == (
        "cover R 0.35 m2K/W from 2 h after the end, for 24 h; space below at 10 degC, until further notice"
    )


def test_a_case_tells_each_operations_hours_and_never_the_word_of_a_release() -> None:
    one = tried([(WORK, Protection(0.35))], WANTED)[0]
    lines = case_lines(one, ZONE)
    assert lines[0] == "p: first concrete Mon 23 Nov 08:00 UTC-0400, 100 mm, placed at 18 degC"
    assert "  EXPECTED, NOT RELEASED" in lines
    assert [line.split()[0] for line in lines if "10 / 50 / 90 %" in line] == ["strip", "walk", "load"]
    assert any(line.startswith("  strip by Tue 24 Nov 14:00") for line in lines)
    told = json.loads(json.dumps(case_json(one), allow_nan=False))
    assert told["wanted"] == "2026-11-24T18:00:00+00:00"
    assert told["chance"] == one.chance
    assert told["expected"]["strip"]["p50"] >= "2026-11-24T14:00"


def test_a_search_tells_the_answer_and_all_that_was_tried() -> None:
    found = least_protection(WORK, WANTED, Offer(), answering(lambda work: [20.0 if work.covers else 40.0]))
    lines = search_lines(found, ZONE, "the least protection")
    assert lines[0] == "the least protection:"
    assert sum("m2K/W" in line for line in lines) == 2
    assert search_json(found)["best"]["protection"]["cover_for_h"] == 12.0
    none = least_protection(WORK, WANTED, Offer(), answering(lambda _: [math.inf]))
    assert search_lines(none, ZONE, "the least protection")[0].startswith("nothing that was tried meets it")
    assert search_json(none)["best"] is None
    assert search_json(none)["nearest"]["by_the_chance"] is None


def test_a_chain_tells_where_the_cold_breaks_it_and_which_set_is_short() -> None:
    def cold_first(work: Slabwork) -> Sequence[float]:
        return [60.0] if work.pour == "b0" and work.weather.air_c.min() < WARM_C else [24.0]

    works = [moved(pour(WORK.weather, name=f"b{n}"), MONDAY_MS + n * DAY_MS) for n in range(3)]
    pours = [Next(BayId(w.pour), w, JUDGED, STRIP, None) for w in works]
    site = Site(("A", "B"), 5.0, "07:00-17:00", ZONE)
    one = Site(("A",), 5.0, "07:00-17:00", ZONE)
    broken = chain(
        [pours[0], pours[1], Next(BayId("b2"), works[2], JUDGED, STRIP, "A")], site, foresee=answering(cold_first)
    )
    lines = chain_lines(broken, ZONE, 0.8)
    assert "h later than planned (cold " in lines[3]
    assert lines[-2] == "the cold breaks the chain at b2"
    assert lines[-1].startswith("short of sets: A, waited for ")
    assert chain_json(broken)["cold_breaks_at"] == "b2"
    slow = chain_lines(chain(pours[:2], one, foresee=answering(lambda _: [60.0])), ZONE, 0.8)
    assert "the cold breaks the chain nowhere" in slow
    assert "at 20 degC too the strength takes longer than the clock hours: the chain is slow at b1" in slow
    whole = chain(pours, site, foresee=answering(lambda _: [24.0]))
    assert chain_lines(whole, ZONE, 0.8)[-2:] == ["the cold breaks the chain nowhere", "no set is short"]
    never = chain(pours[:1] * 2, one, foresee=answering(lambda _: [math.inf]))
    assert "no start: its set is not free" in chain_lines(never, ZONE, 0.8)[2]
    assert chain_json(never)["pours"][1]["start"] is None
