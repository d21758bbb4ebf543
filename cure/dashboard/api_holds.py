"""What pours are held for, for other software: each hold with what lifts it, and who may lift it at its page."""

# Without `from __future__ import annotations`: FastAPI reads the types that are made here.
from collections.abc import Callable
from typing import Any

from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, CallerIn
from cure.dashboard.api_paging import AfterName, Limit, page_by_name
from cure.dashboard.hold_pages import LIFT
from cure.dashboard.rules import API, ENGINEER, RULES
from cure.press import ENGINEER_LIFTS


class HeldAnswer(m.HoldAnswer):
    """A doubt that a person lifts, of one open pour."""

    bay: str
    pour: str
    lifted_by: list[str]
    """Roles that may lift it at the page of the bay's holds, with a code."""


def holds(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the route of holds."""

    def held(caller: CallerIn, cursor: AfterName = None, limit: Limit = 100) -> m.Page[HeldAnswer]:
        """Every hold of every open pour, by bay. A person who has read it lifts it, at its page."""
        found = [
            HeldAnswer(
                bay=row.pour.bay,
                pour=row.pour.id,
                lifted_by=sorted(ENGINEER if hold.kind in ENGINEER_LIFTS else RULES["POST", LIFT]),
                **views.hold_answer(hold, caller.site).model_dump(),
            )
            for row in api.parts.board.board()
            for hold in row.holds
        ]
        items, more = page_by_name(found, lambda one: f"{one.bay} {one.pour} {one.kind}", cursor, limit)
        return m.Page[HeldAnswer](items=items, next=more)

    return {("GET", f"{API}/holds"): held}
