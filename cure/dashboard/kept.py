"""What was worded or drawn before, kept as long as all that it hangs on is the same."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Lock
from typing import Final, Generic, TypeVar

MOST: Final = 1000
"""Things kept; the one not asked for for longest goes first."""
T = TypeVar("T")


@dataclass(slots=True)
class Kept(Generic[T]):
    """Makes what is not there, or hangs on something else now. For many threads."""

    most: int = MOST
    _kept: OrderedDict[Hashable, tuple[tuple[object, ...], T]] = field(default_factory=OrderedDict, init=False)
    _lock: Lock = field(default_factory=Lock, init=False, repr=False)

    def of(self, key: Hashable, hangs_on: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return the thing of a key.

        Args:
            key: what it is.
            hangs_on: all that it is made of; of another one it is made anew.
            make: makes it, of nothing else.
        """
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
        # Of values that are the very same ones nothing is compared.
        if found is not None and found[0] == hangs_on:
            return found[1]
        made = make()
        with self._lock:
            self._kept[key] = hangs_on, made
            self._kept.move_to_end(key)
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)
        return made
