"""Who may ask for what: one line a route. A route without a line cannot be made, and a line without a route fails."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from shared.models.people import Role


class Comer(StrEnum):
    """Who comes without a name."""

    NOBODY = "nobody"
    DEVICE = "device"


ROLES: Final = frozenset[str](Role)
READS: Final = ROLES | {Comer.DEVICE}
ANYONE: Final = READS | {Comer.NOBODY}
ADMIN: Final = frozenset[str]({Role.ADMIN})
HANDS: Final = frozenset[str]({Role.CREW, Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
DESK: Final = frozenset[str]({Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
SCREENS: Final = frozenset[str]({Role.QC, Role.ENGINEER, Role.ADMIN})

RULES: Final[Mapping[tuple[str, str], frozenset[str]]] = {
    ("GET", "/"): READS,
    ("GET", "/board/rows"): READS,
    ("GET", "/bay/{bay}"): ANYONE,
    ("GET", "/bay/{bay}/part"): READS,
    ("POST", "/bay/{bay}/under-way"): HANDS,
    ("POST", "/bay/{bay}/done"): HANDS,
    ("GET", "/pour/{bay}"): HANDS,
    ("POST", "/pour/{bay}/start"): HANDS,
    ("POST", "/pour/{bay}/end"): DESK,
    ("GET", "/sign"): DESK,
    ("POST", "/sign"): DESK,
    ("GET", "/stop/{bay}"): ANYONE,
    ("POST", "/stop/{bay}"): ANYONE,
    ("GET", "/static/{name}"): ANYONE,
    ("GET", "/sign-in"): ANYONE,
    ("POST", "/sign-in"): ANYONE,
    ("POST", "/sign-out"): ANYONE,
    ("GET", "/settings"): ANYONE,
    ("POST", "/settings"): ANYONE,
    ("GET", "/welcome/{token}"): ANYONE,
    ("POST", "/welcome/{token}"): ANYONE,
    ("GET", "/people"): ADMIN,
    ("POST", "/people/invite"): ADMIN,
    ("POST", "/people/end"): ADMIN,
    ("GET", "/devices"): SCREENS,
    ("POST", "/devices/add"): SCREENS,
    ("POST", "/devices/end"): SCREENS,
    ("GET", "/device/{token}"): ANYONE,
    ("POST", "/device/{token}"): ANYONE,
}
"""(method, path) to those who may."""
FRAGMENTS: Final = frozenset({"/board/rows", "/bay/{bay}/part"})
"""Parts that a script asks for: who may not is answered with a number, not with a page."""


SHUTS: Final = frozenset({"/stop/{bay}"})
"""Only ever shuts: a page that is old, or a browser that says little, does not keep anybody from it."""


def may(method: str, path: str, comer: str) -> bool:
    """Return whether a role, or one without a name, may ask for a route."""
    return comer in RULES[method, path]
