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
from shared.models.base import PourId


class Looks:
    def __init__(self) -> None:
        self.bench = Bench(MemoryBoard(), None)  # type: ignore[arg-type]  # nobody signs in
        self.count = 0

    def __call__(self, pour: PourId) -> PourView:
        self.count += 1
        return self.bench.look(pour)


def reader(language: str = "en", units: str = "SI") -> Reader:
    return reader_of(shipped(), SITE, Visitor(), {"slabhour_language": language, "slabhour_units": units}, "")


def test_the_same_judgement_is_drawn_once_and_another_anew() -> None:
    looks = Looks()
    kept, of = KeptCurves(looks), row(BAY)
    first = kept.of(of, reader(), "", NOW)
    assert kept.of(of, reader(), "", NOW + LONGEST_MS - 1) is first
    assert kept.of(of, reader(), "nonsense", NOW) is first
    assert looks.count == 1
    others = (("fr", "SI", ""), ("en", "US", ""), ("en", "SI", "24"))
    assert all(kept.of(of, reader(language, units), h, NOW).charts != first.charts for language, units, h in others)
    assert looks.count == 4
    assert kept.of(of, reader(), "", NOW + LONGEST_MS).at_ms == NOW + LONGEST_MS
    assert kept.of(of, reader(), "", NOW).at_ms == NOW, "a clock that was set back"
    for judged in (replace(of.state, as_of_ms=NOW), replace(of.state, input_revision=2)):
        before = looks.count
        kept.of(replace(of, state=judged), reader(), "", NOW)
        assert looks.count == before + 1
    assert len(kept._kept) == 1


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
    assert [key[3] for key in kept._kept] == ["24", "72"]


def test_a_store_that_fails_is_told_and_nothing_is_kept_of_it() -> None:
    looks = Looks()
    looks.bench.board.down = True
    kept = KeptCurves(looks)
    with pytest.raises(StoreError):
        kept.of(row(BAY), reader(), "", NOW)
    looks.bench.board.down = False
    assert kept.of(row(BAY), reader(), "", NOW).charts
