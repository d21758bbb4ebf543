"""The taps by which people say that a cover or heating came or went."""

from __future__ import annotations

from collections.abc import Callable

from starlette.responses import Response

from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.mix_pages import number_of
from cure.dashboard.pour_pages import earlier_ms
from shared.errors import ActRefusedError
from shared.models.acts import Cover, Heat, instant
from shared.units import f_to_c


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("POST", "/bay/{bay}/cover"): lambda asked: _tap(parts, asked, _cover),
        ("POST", "/bay/{bay}/heat"): lambda asked: _tap(parts, asked, _heat),
    }


def _tap(parts: Parts, asked: Asked, make: Callable[[Asked, str], Cover | Heat]) -> Response:
    name, pour = asked.path["bay"], asked.one("pour")
    # The page may be of an earlier pour: names of bays are used again.
    if not any(row.pour.bay == name and row.pour.id == pour for row in parts.board.board()):
        raise ActRefusedError(f"pour {pour!r} is not open in bay {name}")
    if asked.one("on") not in {"yes", "no"}:
        raise ActRefusedError("on or off")
    parts.apply(make(asked, pour))
    return see_other(f"/bay/{name}#protection")


def _cover(asked: Asked, pour: str) -> Cover:
    at_ms, on = earlier_ms(asked), asked.one("on") == "yes"
    happened = None if at_ms is None else instant(at_ms)
    return Cover(at=instant(asked.now), who=str(asked.visitor.person), pour=pour, on=on, happened=happened)


def _heat(asked: Asked, pour: str) -> Heat:
    at_ms, on = earlier_ms(asked), asked.one("on") == "yes"
    happened, below = None if at_ms is None else instant(at_ms), number_of(asked, "below")
    below_c = f_to_c(below) if below is not None and asked.one("unit") == "degF" else below
    if below_c is not None and not 0.0 <= below_c <= 40.0:
        raise ActRefusedError(asked.reader.say("heat-range"))
    who, at = str(asked.visitor.person), instant(asked.now)
    return Heat(at=at, who=who, pour=pour, on=on, below_c=below_c if on else None, happened=happened)
