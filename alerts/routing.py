"""Who is told of a message, through which channel, and from which hour on. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from alerts.facts import Facts
from shared.models.base import Ms, RecipientId
from shared.models.messages import URGENT, Message, MessageKind, NewDelivery
from shared.models.setup import Role, SiteFile
from shared.shifts import running_or_next

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
            shift = running_or_next(now, person.shift or site.site.shift, site.site.zone)
            from_ms = now if message.kind in URGENT else max(now, shift.begins_ms)
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
