"""Who is told of a message, through which channel, and from which hour on. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from alerts.facts import Facts
from shared.models.base import Ms, RecipientId
from shared.models.messages import URGENT, Message, MessageKind, NewDelivery
from shared.models.setup import RecipientSettings, Role, SiteFile

_ALL: Final = frozenset({Role.CREW, Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
_OFFICE: Final = frozenset({Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
_SITE: Final = frozenset({Role.SUPERINTENDENT, Role.QC})

ROLES: Final[dict[MessageKind, frozenset[Role]]] = {
    MessageKind.SIGN_OFF_WANTED: _OFFICE,
    MessageKind.RELEASED: _ALL,
    MessageKind.MET_NOT_SIGNED: _ALL,
    MessageKind.COLD_DELAY: _SITE,
    MessageKind.FREEZE_SUSPECTED: _OFFICE,
    MessageKind.FREEZE_LOCKED: _OFFICE,
    MessageKind.HOLD: _SITE,
    MessageKind.LOGGER_SILENT: frozenset({Role.INSTALLER, Role.QC}),
    MessageKind.WITHDRAWAL: _ALL,
    MessageKind.KEEP_OFF: _ALL,
    MessageKind.RELEASED_EARLY: frozenset({Role.ENGINEER, Role.QC}),
}
"""Who a kind is for. A sign-off request goes to the roles in its facts; a hold also to an engineer who owns it."""
_TO_ALL_TOLD: Final = frozenset({MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF})


def route(message: Message, site: SiteFile, told: Sequence[tuple[str, int]], now: Ms) -> list[NewDelivery]:
    """Return one delivery a recipient and channel, in the order of the site file.

    Args:
        message: what is to be said.
        site: the set-up in force.
        told: (recipient, channel) that ever heard, or may have heard, of this pour and operation.
        now: [ms]
    """
    roles = _roles(message, site)
    deliveries: dict[tuple[str, int], NewDelivery] = {}
    for person in site.recipient:
        if person.role in roles:
            from_ms = now if message.kind in URGENT else shift_from(person, site, now)
            for channel in range(len(person.channels)):
                deliveries[person.id, channel] = NewDelivery(person.recipient_id, channel, from_ms)
    if message.kind in _TO_ALL_TOLD:
        for who, channel in told:
            deliveries.setdefault((who, channel), NewDelivery(RecipientId(who), channel, now))
    return list(deliveries.values())


def _roles(message: Message, site: SiteFile) -> frozenset[Role]:
    facts = Facts(message.facts)
    roles = ROLES[message.kind]
    if message.kind is MessageKind.SIGN_OFF_WANTED:
        named = frozenset(r for r in Role if r.value in facts.items("roles"))
        return named or roles
    if message.kind is MessageKind.HOLD:
        owner = facts.text("owner")
        person = site.person(owner)
        if Role.ENGINEER.value in owner.lower() or (person is not None and person.role is Role.ENGINEER):
            return roles | {Role.ENGINEER}
    return roles


def shift_from(person: RecipientSettings, site: SiteFile, now: Ms) -> Ms:
    """Return `now` when it lies in the recipient's shift, else the start of the next one. [ms]

    A shift that ends before its start runs across midnight. Hours are the site's own, so that on the night of a clock
    change the shift still starts at its local hour; one that the change swallows whole is left out.
    """
    starts, ends = (time.fromisoformat(t) for t in (person.shift or site.site.shift).split("-"))
    if starts == ends:
        return now
    zone = ZoneInfo(site.site.zone)
    today = datetime.fromtimestamp(now / 1000, tz=UTC).astimezone(zone).date()
    for days in range(-1, 3):
        day = today + timedelta(days=days)
        start = _utc_ms(datetime.combine(day, starts, tzinfo=zone))
        end = _utc_ms(datetime.combine(day + timedelta(days=int(ends < starts)), ends, tzinfo=zone))
        if start <= now < end:
            return now
        if now < start < end:
            return start
    return now


def _utc_ms(at: datetime) -> Ms:
    return round(at.timestamp() * 1000)
