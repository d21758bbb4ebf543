"""What the crew ticks before a pour: on file for the bay, and nothing else of theirs is."""

from __future__ import annotations

from typing import Any

import pytest
from pages_support import NOW, SITE
from store_support import BAY

from cure.acts import PourActs
from cure.ticks import TICKS
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.acts import FileDocument, SiteAct, instant
from shared.models.decisions import LogEntry


class Book:
    """A site book that keeps documents."""

    def __init__(self) -> None:
        self.clock, self.book = SimulatedClock(NOW), self
        self.kept: list[SiteAct] = []

    def act_on_site(self, act: SiteAct, log: LogEntry) -> None:
        assert log.who == act.who
        self.kept.append(act)


@pytest.mark.parametrize("name", TICKS.values())
def test_the_crew_ticks_what_it_saw_before_a_pour_and_files_nothing_else(name: str) -> None:
    book: Any = Book()
    acts = PourActs(SITE, book)
    tick = FileDocument(at=instant(NOW), who="crew", name=name, reference="seen", bay=BAY)
    acts.apply_to_site(tick)
    assert book.kept == [tick]
    for changes in ({"name": "shoring plan"}, {"bay": None}, {"who": "viewer"}):
        with pytest.raises(ActRefusedError, match="takes one of"):
            acts.apply_to_site(tick.model_copy(update=changes))
    assert book.kept == [tick]
