"""Lists a page at a time: a cursor says after what the next page begins. Pure."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import Query

from cure.dashboard.api_models import Cursor

MOST: Final = 1000
Limit = Annotated[int, Query(ge=1, le=MOST, description="how many at most")]
After = Annotated[Cursor | None, Query(description="`next` of the page before")]


def cursor_of(number: int) -> str:
    """Return the cursor of what comes after a number."""
    return f"c{number}"


def number_of(cursor: str | None) -> int | None:
    """Return the number that a cursor stands for; None: there is no cursor."""
    return None if cursor is None else int(cursor[1:])
