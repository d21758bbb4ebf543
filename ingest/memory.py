"""What the intake remembers: so many things and no more."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable

from shared.models.base import Ms


class Memory:
    """The last `size` things, each with an hour."""

    def __init__(self, size: int) -> None:
        self._size = size
        # A plain dict looks past all that were ever taken from its front.
        self._hours: OrderedDict[Hashable, Ms] = OrderedDict()

    def __len__(self) -> int:
        return len(self._hours)

    def __contains__(self, thing: Hashable) -> bool:
        return thing in self._hours

    def put(self, thing: Hashable, hour: Ms) -> None:
        """Remember a thing; the one put first is forgotten when there are too many."""
        self._hours[thing] = hour
        if len(self._hours) > self._size:
            self._hours.popitem(last=False)
