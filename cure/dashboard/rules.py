"""Who may ask for what: one line a route. A route without a line cannot be made, and a line without a route fails."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shared.models.people import Role
from shared.models.tokens import ALONE, Scope


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
LABORATORY: Final = frozenset[str]({Role.QC, Role.ENGINEER})
"""Who enters what a laboratory found, and calibrates."""
ENGINEER: Final = frozenset[str]({Role.ENGINEER})
"""Who writes requirements."""
FITTERS: Final = DESK | {Role.INSTALLER}
"""Who may say where loggers lie."""
SCREENS: Final = frozenset[str]({Role.QC, Role.ENGINEER, Role.ADMIN})

RULES: Final[Mapping[tuple[str, str], frozenset[str]]] = {
    ("GET", "/"): READS,
    ("GET", "/board/rows"): READS,
    ("GET", "/bay/{bay}"): ANYONE,
    ("GET", "/bay/{bay}/part"): READS,
    ("POST", "/bay/{bay}/under-way"): HANDS,
    ("POST", "/bay/{bay}/done"): HANDS,
    ("POST", "/bay/{bay}/cover"): HANDS,
    ("POST", "/bay/{bay}/heat"): HANDS,
    ("GET", "/tickets/{bay}"): ROLES,
    ("POST", "/tickets/{bay}"): HANDS,
    ("POST", "/tickets/{bay}/answer"): DESK,
    ("GET", "/photo/{digest}"): ROLES,
    ("GET", "/sets"): READS,
    ("POST", "/sets"): HANDS,
    ("GET", "/requirements"): ROLES,
    ("POST", "/requirements/preview"): ENGINEER,
    ("POST", "/requirements"): ENGINEER,
    ("GET", "/pour/{bay}"): HANDS,
    ("POST", "/pour/{bay}/start"): HANDS,
    ("POST", "/pour/{bay}/take-back"): HANDS,
    ("POST", "/pour/{bay}/end"): DESK,
    ("GET", "/check/{bay}"): DESK,
    ("POST", "/check/{bay}"): DESK,
    ("GET", "/holds/{bay}"): DESK,
    ("POST", "/holds/{bay}"): DESK,
    ("GET", "/days"): READS,
    ("GET", "/plan"): DESK,
    ("GET", "/sign"): DESK,
    ("POST", "/sign"): DESK,
    ("GET", "/stop/{bay}"): ANYONE,
    ("POST", "/stop/{bay}"): ANYONE,
    ("GET", "/messages"): ROLES,
    ("GET", "/message/{no}"): ROLES,
    ("POST", "/message/{no}/confirm"): HANDS | {Role.INSTALLER},
    ("GET", "/records"): ROLES,
    ("GET", "/record/{no}.pdf"): ROLES,
    ("GET", "/records/set.pdf"): ROLES,
    ("GET", "/records/pour/{pour}.pdf"): ROLES,
    ("GET", "/ready"): READS,
    ("POST", "/ready/{bay}"): HANDS,
    ("GET", "/diary"): ROLES,
    ("GET", "/breaks"): READS,
    ("POST", "/breaks"): LABORATORY,
    ("GET", "/shift"): ROLES,
    ("POST", "/shift/take-over"): HANDS,
    ("GET", "/ledger"): ROLES,
    ("GET", "/ledger.csv"): ROLES,
    ("GET", "/ledger.xlsx"): ROLES,
    ("GET", "/ledger.parquet"): ROLES,
    ("GET", "/forecasts"): READS,
    ("GET", "/r/{no}"): ANYONE,
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
    ("GET", "/mixes"): READS,
    ("GET", "/mix/{mix}"): READS,
    ("POST", "/mix/{mix}/break"): LABORATORY,
    ("GET", "/mix/{mix}/calibrate"): LABORATORY,
    ("POST", "/mix/{mix}/calibrate"): LABORATORY,
    ("POST", "/mix/{mix}/put-in-force"): LABORATORY,
    ("GET", "/loggers"): READS,
    ("POST", "/loggers/again"): FITTERS,
    ("GET", "/logger/{logger}"): READS,
    ("POST", "/logger/{logger}/place"): FITTERS,
    ("POST", "/logger/{logger}/remove"): FITTERS,
    ("GET", "/labels"): READS,
    ("GET", "/help"): ANYONE,
    ("GET", "/device/{token}"): ANYONE,
    ("POST", "/device/{token}"): ANYONE,
}
"""(method, path) to those who may."""
LONG: Final = frozenset({"/mix/{mix}/calibrate", "/mix/{mix}/put-in-force"})
"""Forms that carry tables and files."""
PHOTOS: Final = frozenset({"/tickets/{bay}"})
"""Forms that carry a picture."""
FRAGMENTS: Final = frozenset({"/board/rows", "/bay/{bay}/part"})
"""Parts that a script asks for: who may not is answered with a number, not with a page."""


SHUTS: Final = frozenset({"/stop/{bay}"})
"""Only ever shuts: a page that is old, or a browser that says little, does not keep anybody from it."""


def may(method: str, path: str, comer: str) -> bool:
    """Return whether a role, or one without a name, may ask for a route."""
    return comer in RULES[method, path]


@dataclass(frozen=True, slots=True)
class Opens:
    """What a route of the interface for other software takes: a token's scope, and the role of its person."""

    scope: Scope | None
    """None: any that is no `ALONE`."""
    roles: frozenset[str]


API: Final = "/api/v1"
FIELD: Final = frozenset[str]({Role.CREW, Role.INSTALLER}) | DESK
PROBES: Final = frozenset[str]({Role.INSTALLER}) | DESK
_READS: Final = Opens(Scope.READ, ROLES)
API_RULES: Final[Mapping[tuple[str, str], Opens]] = {
    ("GET", f"{API}/me"): Opens(None, ROLES),
    ("GET", f"{API}/site"): _READS,
    ("GET", f"{API}/board"): _READS,
    ("GET", f"{API}/bays"): _READS,
    ("GET", f"{API}/bays/{{bay}}"): _READS,
    ("GET", f"{API}/gates"): _READS,
    ("GET", f"{API}/holds"): _READS,
    ("GET", f"{API}/evidence/{{digest}}"): _READS,
    ("GET", f"{API}/shift"): _READS,
    ("GET", f"{API}/forecast-scores"): _READS,
    ("GET", f"{API}/break-orders"): _READS,
    ("GET", f"{API}/readings"): _READS,
    ("GET", f"{API}/decisions"): _READS,
    ("GET", f"{API}/messages"): _READS,
    ("GET", f"{API}/messages/{{no}}"): _READS,
    ("GET", f"{API}/records"): _READS,
    ("GET", f"{API}/records/{{no}}"): _READS,
    ("GET", f"{API}/records/{{no}}/pdf"): _READS,
    ("GET", f"{API}/loggers"): _READS,
    ("GET", f"{API}/calibrations"): _READS,
    ("GET", f"{API}/bays/{{bay}}/curve"): _READS,
    ("GET", f"{API}/tables/{{table}}.csv"): _READS,
    ("GET", f"{API}/plan"): Opens(Scope.READ, DESK),
    ("POST", f"{API}/plan"): Opens(Scope.READ, DESK),
    ("GET", f"{API}/tables/{{table}}.xlsx"): _READS,
    ("GET", f"{API}/tables/{{table}}.parquet"): _READS,
    ("GET", f"{API}/ready"): _READS,
    ("GET", f"{API}/days"): _READS,
    ("GET", f"{API}/diary"): _READS,
    ("GET", f"{API}/bays/{{bay}}/tickets"): _READS,
    ("GET", f"{API}/photos/{{digest}}"): _READS,
    ("GET", f"{API}/form-sets"): _READS,
    ("GET", f"{API}/labels"): _READS,
    ("GET", f"{API}/messages/{{no}}/texts"): _READS,
    ("GET", f"{API}/handover.pdf"): _READS,
    ("GET", f"{API}/pours/{{pour}}/pdf"): _READS,
    ("GET", f"{API}/loggers/{{logger}}"): _READS,
    ("GET", f"{API}/refusals"): _READS,
    ("GET", f"{API}/test-results"): _READS,
    ("GET", f"{API}/verification"): _READS,
    ("GET", f"{API}/requirements"): _READS,
    ("GET", f"{API}/requirements/history"): _READS,
    ("GET", f"{API}/people"): Opens(Scope.READ, ADMIN),
    ("GET", f"{API}/devices"): Opens(Scope.READ, SCREENS),
    ("POST", f"{API}/acts/take-over"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/ready"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/ticket-answer"): Opens(Scope.ACT, DESK),
    ("POST", f"{API}/acts/place-sensor"): Opens(Scope.ACT, PROBES),
    ("POST", f"{API}/acts/remove-sensor"): Opens(Scope.ACT, PROBES),
    ("POST", f"{API}/acts/screen-again"): Opens(Scope.ACT, PROBES),
    ("POST", f"{API}/mixes/{{mix}}/calibrate"): Opens(Scope.ACT, LABORATORY),
    ("POST", f"{API}/mixes/{{mix}}/put-in-force"): Opens(Scope.SIGN, LABORATORY),
    ("POST", f"{API}/requirements/preview"): Opens(Scope.ACT, ENGINEER),
    ("POST", f"{API}/requirements"): Opens(Scope.SIGN, ENGINEER),
    ("POST", f"{API}/acts/pour-start"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/take-back"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/pour-end"): Opens(Scope.ACT, DESK),
    ("POST", f"{API}/acts/second-check"): Opens(Scope.ACT, DESK),
    ("POST", f"{API}/acts/under-way"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/done"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/cover"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/heat"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/ticket"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/form-set"): Opens(Scope.ACT, HANDS),
    ("POST", f"{API}/acts/want"): Opens(Scope.ACT, DESK),
    ("POST", f"{API}/acts/confirm"): Opens(Scope.ACT, FIELD),
    ("POST", f"{API}/acts/hand-reading"): Opens(Scope.ACT, PROBES),
    ("POST", f"{API}/acts/test-result"): Opens(Scope.ACT, LABORATORY),
    ("POST", f"{API}/acts/stop"): Opens(None, ROLES),
    ("POST", f"{API}/signatures"): Opens(Scope.SIGN, DESK),
    ("GET", "/metrics"): Opens(Scope.METRICS, ROLES),
    ("GET", "/calendar/{token}.ics"): Opens(Scope.CALENDAR, ROLES),
}
"""(method, path) to what it takes; without a token nothing is answered. STOP takes any token: it only shuts."""
API_SHUTS: Final = frozenset({("POST", f"{API}/acts/stop")})
"""Only ever shut: never held back by how often somebody asks."""


def opens(method: str, path: str, scopes: AbstractSet[Scope], role: str) -> bool:
    """Return whether a token of these scopes, whose person has this role, opens a route."""
    rule = API_RULES[method, path]
    held = rule.scope in scopes if rule.scope is not None else not scopes <= ALONE
    return held and role in rule.roles
