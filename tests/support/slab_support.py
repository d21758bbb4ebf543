"""The random thin slabs that the tests share; made once."""

from __future__ import annotations

from functools import cache
from typing import Final

from deploy.bench.worlds import Values, World, by, worlds_of

__all__ = ["Values", "World", "by", "worlds"]

SKIES: Final = 10


@cache
def worlds() -> tuple[World, ...]:
    """Return the slabs under `SKIES` skies."""
    return tuple(world for seed in range(SKIES) for world in worlds_of(seed))
