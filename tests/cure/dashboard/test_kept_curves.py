"""A picture is drawn once for each judgement, language, unit and window; and never shown when it may be old."""

from __future__ import annotations

from dataclasses import replace
from threading import Thread

import pytest
from pages_support import NOW, SITE, Bench, MemoryBoard, row
from store_support import BAY

from alerts.site_words import shipped
from cure.dashboard import kept_curves
from cure.dashboard.asked import Visitor
from cure.dashboard.choosing import reader_of
from cure.dashboard.kept_curves import LONGEST_MS, KeptCurves
from cure.dashboard.pour_view import PourView
from cure.dashboard.reader import Reader
from shared.errors import StoreError
from shared.models.base import STRIP, PourId
from shared.models.decisions import GateState


class Looks:
    def __init__(self) -> None:
        self.bench = Bench(MemoryBoard(), None)  # type: ignore[arg-type]  # nobody signs in
        self.count = 0

    def __call__(self, pour: PourId) -> PourView:
        self.count += 1
        return self.bench.look(pour)


def reader(language: str = "en", units: str = "SI") -> Reader:
    return reader_of(shipped(), SITE, Visitor(), {"slabhour_language": language, "slabhour_units": units}, "")


def test_the_same_judgement_is_drawn_once_and_what_is_old_anew() -> None:
    looks = Looks()
    kept, of = KeptCurves(looks), row(BAY)
    first, newer = kept.of(of, reader(), "", NOW)
    assert newer is None
    assert kept.of(of, reader(), "", NOW + LONGEST_MS - 1) == (first, None)
    assert kept.of(of, reader(), "nonsense", NOW)[0] is first
    assert looks.count == 1
    others = (("fr", "SI", ""), ("en", "US", ""), ("en", "SI", "24"))
    assert all(kept.of(of, reader(lang, units), h, NOW)[0].charts != first.charts for lang, units, h in others)
    assert looks.count == 4
    assert kept.of(of, reader(), "", NOW + LONGEST_MS)[0].at_ms == NOW + LONGEST_MS
    assert kept.of(of, reader(), "", NOW)[0].at_ms == NOW, "a clock that was set back"


def test_after_a_new_judgement_one_visitor_has_a_newer_picture_made_and_nobody_waits_for_it() -> None:
    looks = Looks()
    kept, of = KeptCurves(looks), row(BAY)
    first, _ = kept.of(of, reader(), "", NOW)
    for judged in (replace(of.state, as_of_ms=NOW), replace(of.state, input_revision=2)):
        before, later = looks.count, replace(of, state=judged)
        drawn, newer = kept.of(later, reader(), "", NOW + 1)
        assert newer is not None
        assert kept.of(later, reader(), "", NOW + 1) == (drawn, None), "somebody makes it already"
        assert looks.count == before
        newer()
        assert kept.of(later, reader(), "", NOW + 2)[1] is None
        assert looks.count == before + 1
    assert kept.of(later, reader(), "", NOW + 2)[0].at_ms == NOW + 1 > first.at_ms


def test_no_old_picture_stands_beside_another_answer() -> None:
    looks = Looks()
    kept, of = KeptCurves(looks), row(BAY)
    kept.of(of, reader(), "", NOW)
    gate = replace(of.gates[STRIP], state=GateState.WITHDRAWN)
    withdrawn = replace(of, gates={**of.gates, STRIP: gate}, state=replace(of.state, as_of_ms=NOW + 1))
    assert kept.of(withdrawn, reader(), "", NOW + 1) == (kept.of(withdrawn, reader(), "", NOW + 1)[0], None)
    assert looks.count == 2


def test_a_crowd_waits_for_one_drawing_and_few_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_curves, "MOST", 2)
    looks = Looks()
    kept = KeptCurves(looks)
    threads = [Thread(target=kept.of, args=(row(BAY), reader(), "", NOW)) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert looks.count == 1
    for hours in ("24", "72"):
        kept.of(row(BAY), reader(), hours, NOW)
    assert [key[1] for key in kept._kept] == ["24", "72"]


def test_a_store_that_fails_is_told_and_nothing_is_kept_of_it() -> None:
    looks = Looks()
    kept, of = KeptCurves(looks), row(BAY)
    looks.bench.board.down = True
    with pytest.raises(StoreError):
        kept.of(of, reader(), "", NOW)
    looks.bench.board.down = False
    assert kept.of(of, reader(), "", NOW)[0].charts
    later = replace(of, state=replace(of.state, as_of_ms=NOW))
    newer = kept.of(later, reader(), "", NOW)[1]
    looks.bench.board.down = True
    assert newer is not None
    newer()
    with pytest.raises(StoreError):
        kept.of(later, reader(), "", NOW)
