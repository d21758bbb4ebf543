"""The drawn curves of bay pages, kept until the pour is judged again: all who come in between see one picture."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Final

from markupsafe import Markup

from cure.dashboard.curves import SHOWN_H, curves
from cure.dashboard.pour_view import PourView
from cure.dashboard.reader import Reader
from shared.models.base import Ms, PourId
from shared.ports import BoardRow

MOST: Final = 200
"""Pictures kept, some 60 KB each; the one not looked at for longest goes first."""
LONGEST_MS: Final = 300_000
"""However little has come: "now", and what is silent, move on without news."""
_Key = tuple[str, Ms, int, str, str, str]


@dataclass(frozen=True, slots=True)
class Drawn:
    """The charts of a pour, and the hour at which they were drawn."""

    charts: tuple[Markup, ...]
    at_ms: Ms


class KeptCurves:
    """Draws what is not there. Safe from many threads; one draws, and who wants the same waits for it."""

    def __init__(self, look: Callable[[PourId], PourView]) -> None:
        """`look` reads a pour from the stores; raises `StoreError`."""
        self._look = look
        self._kept: OrderedDict[_Key, Drawn] = OrderedDict()
        self._lock = Lock()
        self._drawing = Lock()

    def of(self, row: BoardRow, reader: Reader, hours: str, now: Ms) -> Drawn:
        """Return the charts of an open pour. Raises `StoreError`.

        Args:
            row: the pour as it was last judged: whatever comes or is done to it makes a new judgement.
            reader: whose language and units they are drawn in.
            hours: as `curves` takes them.
            now: site time.
        """
        state, shown = row.state, hours if hours in SHOWN_H else ""
        key = (row.pour.id, state.as_of_ms, state.input_revision, shown, reader.language, reader.first)
        found = self._found(key, now)
        if found is not None:
            return found
        with self._drawing:
            found = self._found(key, now)
            if found is not None:
                return found
            drawn = Drawn(curves(self._look(row.pour.id), reader, shown), now)
            self._keep(key, drawn)
        return drawn

    def _found(self, key: _Key, now: Ms) -> Drawn | None:
        with self._lock:
            drawn = self._kept.get(key)
            if drawn is None or not 0 <= now - drawn.at_ms < LONGEST_MS:
                return None
            self._kept.move_to_end(key)
            return drawn

    def _keep(self, key: _Key, drawn: Drawn) -> None:
        with self._lock:
            # Of the same pour nothing older is asked for again.
            for old in [k for k in self._kept if k[0] == key[0] and k[1:3] != key[1:3]]:
                del self._kept[old]
            self._kept[key] = drawn
            self._kept.move_to_end(key)
            while len(self._kept) > MOST:
                self._kept.popitem(last=False)
