"""The drawn curves of bay pages, kept until the pour is judged again: all who come in between see one picture.

After that the old picture, which says when it was drawn, is shown once more while a new one is made: nobody waits for
the drawing of what others have just seen.
"""

from __future__ import annotations

import logging
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from threading import Lock
from typing import Final

from markupsafe import Markup

from cure.dashboard.curves import SHOWN_H, curves
from cure.dashboard.pour_view import PourView
from cure.dashboard.reader import Reader
from shared.errors import StoreError
from shared.models.base import Ms, PourId
from shared.ports import BoardRow

LOG: Final = logging.getLogger(__name__)
MOST: Final = 200
"""Pictures kept, some 60 KB each; the one not looked at for longest goes first."""
LONGEST_MS: Final = 300_000
"""However little has come: "now", and what is silent, move on without news."""
_Key = tuple[PourId, str, str, str]


@dataclass(frozen=True, slots=True)
class Drawn:
    """The charts of a pour, and the hour at which they were drawn."""

    charts: tuple[Markup, ...]
    at_ms: Ms
    row: BoardRow
    """The pour as it was last judged then."""

    def is_of(self, row: BoardRow) -> bool:
        """Return whether the pour has not been judged since: whatever comes or is done to it makes a new judgement."""
        of, now = self.row.state, row.state
        return (of.as_of_ms, of.input_revision) == (now.as_of_ms, now.input_revision)

    def is_told_from(self, row: BoardRow) -> bool:
        """Return whether what the pour is released for is what it was: beside other answers no old picture stands."""
        return (self.row.pour, self.row.gates, self.row.holds) == (row.pour, row.gates, row.holds)


class KeptCurves:
    """Draws what is not there. Safe from many threads; one draws, and who wants the same waits for it."""

    def __init__(self, look: Callable[[PourId], PourView]) -> None:
        """`look` reads a pour from the stores; raises `StoreError`."""
        self._look = look
        self._kept: OrderedDict[_Key, Drawn] = OrderedDict()
        self._lock = Lock()
        self._drawing = Lock()
        self._under_way: set[_Key] = set()

    def of(self, row: BoardRow, reader: Reader, hours: str, now: Ms) -> tuple[Drawn, Callable[[], None] | None]:
        """Return the charts of an open pour, and what makes newer ones, to be called once the answer is sent; None:
        these are the newest, or somebody makes them. Raises `StoreError`.

        Args:
            row: the pour as it was last judged.
            reader: whose language and units they are drawn in.
            hours: as `curves` takes them.
            now: site time.
        """
        key = row.pour.id, hours if hours in SHOWN_H else "", reader.language, reader.first
        drawn = self._found(key, row, now)
        if drawn is None:
            with self._drawing:
                drawn = self._found(key, row, now) or self._drawn(key, row, reader, now)
        if drawn.is_of(row):
            return drawn, None
        with self._lock:
            if key in self._under_way:
                return drawn, None
            self._under_way.add(key)
        return drawn, partial(self._again, key, row, reader, now)

    def _again(self, key: _Key, row: BoardRow, reader: Reader, now: Ms) -> None:
        try:
            with self._drawing:
                self._drawn(key, row, reader, now)
        except StoreError as error:
            # Whoever comes next is told.
            LOG.error("the curves of pour %s were not drawn: %s", row.pour.id, error)
            with self._lock:
                self._kept.pop(key, None)
        finally:
            with self._lock:
                self._under_way.discard(key)

    def _drawn(self, key: _Key, row: BoardRow, reader: Reader, now: Ms) -> Drawn:
        drawn = Drawn(curves(self._look(row.pour.id), reader, key[1]), now, row)
        with self._lock:
            self._kept[key] = drawn
            self._kept.move_to_end(key)
            while len(self._kept) > MOST:
                self._kept.popitem(last=False)
        return drawn

    def _found(self, key: _Key, row: BoardRow, now: Ms) -> Drawn | None:
        with self._lock:
            drawn = self._kept.get(key)
            if drawn is None or not 0 <= now - drawn.at_ms < LONGEST_MS or not drawn.is_told_from(row):
                return None
            self._kept.move_to_end(key)
            return drawn
