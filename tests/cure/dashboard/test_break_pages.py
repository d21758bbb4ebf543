"""Break orders on a page: the hours of `slabhour break-orders`, results entered, and what they make of a curve."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import cast

import pytest
from mixes_support import mix_bench
from pages_support import NOW, OTHER, Bench
from store_support import opened_book

from alerts.site_words import shipped
from cure.break_hours import NEVER_OPEN, STANDS_STILL, TOO_OLD, BreakHours
from cure.break_orders import NO_RECORD, break_orders
from cure.dashboard.asked import Asked, Visitor
from cure.dashboard.break_pages import WHY, hours
from cure.dashboard.choosing import reader_of
from cure.dashboard.rendering import words
from shared.catalogue import LANGUAGES
from shared.models.acts import StrengthTest, instant
from shared.models.base import HOUR_MS
from shared.models.people import Role
from shared.models.setup import LaboratorySettings
from shared.ports import BoardBook
from shared.shifts import site_hour

RESULT = {"pour": "2-b1-p1", "method": "cylinder", "strength": "9,4", "unit": "MPa", "equivalent_age_h": "24.5"}


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        made = mix_bench(book)
        laboratory = LaboratorySettings.model_validate({"open": "08:00-17:00", "days": ["mon", "tue", "wed"]})
        made.board.of_site = made.board.of_site.model_copy(update={"laboratory": laboratory})
        yield made


def test_orders_are_the_command_s_and_their_hours_too(bench: Bench) -> None:
    site = bench.board.of_site
    found = break_orders(cast("BoardBook", bench.board), site.laboratory, NOW)
    text = bench.signed_in(Role.VIEWER).get("/breaks").text
    assert "Laboratory open 08:00-17:00, Mon, Tue, Wed." in text
    orders = [order for pour in found for order in pour.orders]
    assert orders
    assert text.count("of equivalent age; the curve has") == len(orders)

    def named(at_ms: int | None) -> str:
        assert at_ms is not None
        day, _, _, hour, _ = site_hour(at_ms, site.site.zone).split()
        return hour if day == "Tue" else f"{day} {hour}"

    told: list[BreakHours] = [h for o in orders for h in (o.laboratory, o.beside) if h.break_from_ms is not None]
    assert told
    for h in told:
        assert f"break {named(h.break_from_ms)} to {named(h.break_to_ms)}" in text
    assert "<form" not in text.partition("<footer")[0]
    assert "it releases nothing" in text


def test_a_result_is_entered_here_as_on_the_mix_s_page_and_what_is_none_comes_back(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    form = {"csrf": bench.csrf(browser), **RESULT}
    assert browser.post("/breaks", form).status_code == 303
    [act] = bench.acts
    assert isinstance(act, StrengthTest)
    assert (act.pour, act.mpa, act.equivalent_age_h) == ("2-b1-p1", 9.4, 24.5)
    answer = browser.post("/breaks", {**form, "strength": "strong"})
    assert (answer.status_code, len(bench.acts)) == (422, 1)
    assert 'role="alert"' in answer.text
    assert 'value="strong"' in answer.text


def test_each_result_says_what_it_counts_for(bench: Bench) -> None:
    def broken(mpa: float, age_h: float | None, method: str = "cylinder", pour: str = f"{OTHER}-p1") -> StrengthTest:
        return StrengthTest.model_validate(
            {"at": instant(NOW - HOUR_MS), "who": "qc", "pour": pour, "method": method, "mpa": mpa}
            | ({} if age_h is None else {"equivalent_age_h": age_h})
        )

    bench.board.done = [
        broken(13.5, 30.0),
        broken(13.5, None),
        broken(13.5, 5000.0),
        broken(9.0, None, "pullout"),
        broken(9.0, 24.0, pour="9-b9-p1"),
    ]
    text = bench.signed_in(Role.QC).get("/breaks").text
    said = text.partition('id="results"')[2]
    for wanted in (
        "% of the curve</td>",
        "counts for nothing: it has no temperature record of its own",
        "outside what was tested",
        "a test in the slab",
        "its pour is not judged by a version in force",
    ):
        assert said.count(wanted) == 1, wanted
    # What the set of three in the book does.
    assert "by later cylinders the curve counts for" in said


def test_every_reason_has_words_and_the_page_its_languages(bench: Bench) -> None:
    assert set(WHY) == {STANDS_STILL, TOO_OLD, NEVER_OPEN, NO_RECORD}
    assert [key for key in WHY.values() for language in LANGUAGES if not words()[language].has(key)] == []
    browser = bench.signed_in(Role.QC)
    come = BreakHours(NOW, NOW, why=TOO_OLD)
    for language, said in (("en", "reached by 18:00"), ("fr", "atteint au plus tard 18:00"), ("es", "alcanzado a más")):
        reader = reader_of(shipped(), bench.board.of_site, Visitor(), {"slabhour_language": language}, "")
        assert hours(come, cast("Asked", SimpleNamespace(reader=reader, now=NOW))).startswith(said)
    for language, said in (("fr", "rompre de"), ("es", "romper")):
        browser.cookies.set("slabhour_language", language)
        text = browser.get("/breaks").text.partition("<main")[2]
        assert said in text
        assert "equivalent age" not in text
        assert "laboratory" not in text.lower().replace("laboratorio", "")
