"""Lists a page at a time: a cursor says after what the next page begins. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated, Final, TypeVar

from fastapi import Query
from pydantic import StringConstraints

from cure.dashboard.api_models import Cursor

T = TypeVar("T")

MOST: Final = 1000
Limit = Annotated[int, Query(ge=1, le=MOST, description="how many at most")]
NameCursor = Annotated[str, StringConstraints(pattern=r"^n([0-9a-f]{2}){1,400}$")]
AfterName = Annotated[NameCursor | None, Query(description="`next` of the page before")]
After = Annotated[Cursor | None, Query(description="`next` of the page before")]


def cursor_of(number: int) -> str:
    """Return the cursor of what comes after a number."""
    return f"c{number}"


def number_of(cursor: str | None) -> int | None:
    """Return the number that a cursor stands for; None: there is no cursor."""
    return None if cursor is None else int(cursor[1:])


def page_by_name(
    every: Sequence[T], name: Callable[[T], str], cursor: str | None, limit: int
) -> tuple[list[T], str | None]:
    """Return a page of what is ordered by name, and the cursor of the next one; each name is there once.

    Args:
        every: in any order.
        name: of one of them.
        cursor: of the page; None: the first.
        limit: how many at most.
    """
    after = "" if cursor is None else bytes.fromhex(cursor[1:]).decode("utf-8", "replace")
    left = sorted((one for one in every if name(one) > after), key=name)
    more = "n" + name(left[limit - 1]).encode().hex() if len(left) > limit else None
    return left[:limit], more
