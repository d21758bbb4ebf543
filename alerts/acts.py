"""What people do about messages, carried out: one table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, TypeAlias

from shared.act_checks import check_bay, check_hour
from shared.errors import ActRefusedError
from shared.models.acts import AlertsAct, Confirm, Resend, Silence, TestChannels, act_to, ms
from shared.models.base import HOUR_MS, THE_SITE, BayId, Ms
from shared.models.decisions import LogEntry
from shared.models.messages import MessageKind, NewMessage
from shared.models.people import RecipientSettings, Role
from shared.models.setup import Setup, SiteFile
from shared.ports import AlertsBook

LONGEST_SILENCE_MS: Final = 8 * HOUR_MS

_OFFICE: Final = frozenset({Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
MAY: Final[Mapping[type[AlertsAct], frozenset[Role]]] = {
    Confirm: _OFFICE | {Role.CREW, Role.INSTALLER},
    Silence: _OFFICE,
    Resend: _OFFICE | {Role.ADMIN},
    TestChannels: _OFFICE | {Role.INSTALLER, Role.ADMIN},
}
"""Roles that may do an act."""


def apply(book: AlertsBook, setup: Setup, act: AlertsAct, now: Ms) -> None:
    """Carry out an act. Raises `ActRefusedError`, with nothing done."""
    check_hour(act, now)
    _check_role(setup.site, act)
    _CARRIED_OUT[type(act)](book, setup.site, act, now)


def _check_role(site: SiteFile, act: AlertsAct) -> None:
    may = MAY[type(act)]
    if _person(site, act.who).role not in may:
        roles = ", ".join(role.value for role in Role if role in may)
        raise ActRefusedError(f"{act.who} may not do this; these roles may: {roles}")


def _person(site: SiteFile, who: str) -> RecipientSettings:
    person = site.person(who)
    if person is None:
        raise ActRefusedError(f"there is no recipient {who!r} in the site file")
    return person


def _log(act: AlertsAct) -> LogEntry:
    return LogEntry(act.at_ms, act.who, "act", act_to(act))


def _confirm(book: AlertsBook, site: SiteFile, act: Confirm, _now: Ms) -> None:
    if act.told is not None and _person(site, act.who).role is not Role.ENGINEER:
        raise ActRefusedError("only the engineer may say that others were told by phone")
    if book.confirm(act, act.message, _log(act)) == 0:
        raise ActRefusedError(
            f"message no. {act.message}: nothing to confirm. Either it is confirmed, or no channel has "
            "accepted it yet; `slabhour status` shows its deliveries"
        )


def _silence(book: AlertsBook, site: SiteFile, act: Silence, now: Ms) -> None:
    until_ms = ms(act.until)
    if not now < until_ms <= now + LONGEST_SILENCE_MS:
        raise ActRefusedError("a silence ends in the future, at most 8 hours from now")
    if act.bay is not None:
        check_bay(site, act.bay)
    book.silence(act, None if act.bay is None else BayId(act.bay), until_ms, _log(act))


def _resend(book: AlertsBook, site: SiteFile, act: Resend, _now: Ms) -> None:
    if act.recipient is not None:
        _person(site, act.recipient)
    if book.resend(act, act.message, act.recipient, _log(act)) == 0:
        raise ActRefusedError(
            f"message no. {act.message}: nothing to send once more. Either there is no such delivery, or it is on its "
            "way, answered or no longer true; `slabhour status` shows its deliveries"
        )


def _test_channels(book: AlertsBook, site: SiteFile, act: TestChannels, now: Ms) -> None:
    if not _person(site, act.recipient).channels:
        raise ActRefusedError(f"{act.recipient} has no channel")
    place = site.site
    facts = {
        "site": place.name,
        "site_id": place.id,
        "zone": place.zone,
        "units": place.units,
        "recipient": act.recipient,
        "who": act.who,
        "hour_ms": now,
    }
    # The hour makes each test a message of its own.
    book.test(act, NewMessage(MessageKind.TEST, THE_SITE, act.recipient, now, now, None, facts), _log(act))


_Carried: TypeAlias = Callable[[AlertsBook, SiteFile, Any, Ms], None]
_CARRIED_OUT: Final[Mapping[type[AlertsAct], _Carried]] = {
    Confirm: _confirm,
    Silence: _silence,
    Resend: _resend,
    TestChannels: _test_channels,
}
