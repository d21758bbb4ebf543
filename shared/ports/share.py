"""Which pours a process judges, where several judge the pours of one site side by side."""

from __future__ import annotations

from typing import Protocol

from shared.models.base import Ms, PourId


class Share(Protocol):
    """The part of a site's open pours that is this process's own.

    It spares double work and keeps a pour with one process, which remembers its readings and its forecast. What makes
    it right is something else: `CureBook.record` writes nothing over a case that has moved. So two processes that
    think a pour theirs, while one of them goes or comes, do no harm.
    """

    def look(self, now: Ms) -> None:
        """Look who is there; before each round. Raises `StoreError`: nothing is judged then until a look succeeds."""
        ...

    def mine(self, pour: PourId) -> bool:
        """Say whether a pour is this process's to judge."""
        ...

    def close(self) -> None:
        """Leave: the others take over at their next look."""
        ...


class Whole:
    """Every pour: there is one process."""

    def look(self, now: Ms) -> None:
        """Nobody else is there."""

    def mine(self, pour: PourId) -> bool:
        del pour
        return True

    def close(self) -> None:
        """Nothing was opened."""


class NoShare(Whole):
    """No pour: others judge them all, this process carries out what people do."""

    def mine(self, pour: PourId) -> bool:
        del pour
        return False
