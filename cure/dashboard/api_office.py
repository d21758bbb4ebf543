"""What other software reads of the office: the shift handover, scores of forecasts, orders to the laboratory."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from cure import break_order_lines, forecast_lines
from cure.break_orders import break_orders
from cure.dashboard.api_door import ApiParts, CallerIn
from cure.dashboard.api_views import hour
from cure.dashboard.rules import API
from cure.dashboard.shift_pages import change_of, sheet_of
from cure.forecast_scores import scores


def office(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route. The ledger is a table."""

    def shift(caller: CallerIn) -> dict[str, Any]:
        """What the next shift must know, by kind, in the words of the page; and who has taken the shift over."""
        found = sheet_of(api.parts, caller.site, caller.now, caller.reader)
        of = change_of(api.parts, caller.site, caller.now)
        taken = [{"who": act.who, "at": hour(act.at_ms, caller.site), "note": act.note} for act in of.taken]
        begins, ends = (hour(at_ms, caller.site) for at_ms in (of.shift.begins_ms, of.shift.ends_ms))
        now = hour(caller.now, caller.site)
        told = {"now": now, "begins": begins, "ends": ends, "taken_over": taken}
        return {**told, "sheet": found.to_json(), "caution": api.caution}

    def forecast_scores(_caller: CallerIn) -> dict[str, Any]:
        """How good the forecasts were, as `slabhour forecast score` tells it. A forecast releases nothing."""
        return forecast_lines.to_json(scores(api.parts.beside.scored()))

    def orders(caller: CallerIn) -> dict[str, Any]:
        """Which cylinders the laboratory is to break next and when, as `slabhour break-orders` tells it."""
        laboratory = caller.site.laboratory
        found = break_orders(api.parts.board, laboratory, caller.now)
        return break_order_lines.to_json(found, laboratory, caller.now)

    return {
        ("GET", f"{API}/shift"): shift,
        ("GET", f"{API}/forecast-scores"): forecast_scores,
        ("GET", f"{API}/break-orders"): orders,
    }
