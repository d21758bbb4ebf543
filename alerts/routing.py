"""Who is told of a message, through which channel, and from which hour on. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from alerts.facts import Facts
from alerts.lesser import is_urgent
from shared.models.base import MINUTE_MS, Ms, RecipientId
from shared.models.messages import PERMITS, URGENT, Message, MessageKind, NewDelivery
from shared.models.people import RecipientSettings, Role
from shared.models.setup import SiteFile
from shared.shifts import running_or_next

_ALL: Final = frozenset({Role.CREW, Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
_OFFICE: Final = frozenset({Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
_SITE: Final = frozenset({Role.SUPERINTENDENT, Role.QC})
_HANDS: Final = frozenset({Role.CREW, Role.SUPERINTENDENT, Role.QC})
_LOGGERS: Final = frozenset({Role.INSTALLER, Role.QC})
_JUDGES: Final = frozenset({Role.ENGINEER, Role.QC})

ROLES: Final[dict[MessageKind, frozenset[Role]]] = {
    MessageKind.SIGN_OFF_WANTED: _OFFICE,
    MessageKind.RELEASED: _ALL,
    MessageKind.MET_NOT_SIGNED: _ALL,
    MessageKind.COLD_DELAY: _SITE,
    MessageKind.FREEZE_SUSPECTED: _OFFICE,
    MessageKind.FREEZE_LOCKED: _OFFICE,
    MessageKind.HOLD: _SITE,
    MessageKind.LOGGER_SILENT: _LOGGERS,
    MessageKind.WITHDRAWAL: _ALL,
    MessageKind.KEEP_OFF: _ALL,
    MessageKind.RELEASED_EARLY: _JUDGES,
    MessageKind.TOO_HOT: _SITE,
    MessageKind.TOO_STEEP: _SITE,
    MessageKind.FREEZING_AHEAD: _HANDS,
    MessageKind.DRYING_RISK: _HANDS,
    MessageKind.COVER_TONIGHT: _HANDS,
    MessageKind.LOGGER_DOUBTFUL: _LOGGERS,
    MessageKind.LOW_BATTERY: _LOGGERS,
    MessageKind.CALIBRATION: _JUDGES,
    MessageKind.DELIVERY_FAILED: _OFFICE,
    MessageKind.IN_DOUBT: _ALL,
    MessageKind.MORNING_LIST: _ALL,
    MessageKind.HANDOVER: _HANDS,
    MessageKind.TEST: frozenset(Role),
}
"""Who a kind is for. A sign-off request goes to the roles in its facts; a hold also to an engineer who owns it; a
failed delivery to whom `site.duty` names, else to these; a test to the recipient that it is about, alone."""
TOGETHER_MS: Final = MINUTE_MS
"""What permits something waits so long for others of its kind: several bays that turn together are one text."""
_TO_ALL_TOLD: Final = frozenset({MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF, MessageKind.IN_DOUBT})
AT_ITS_HOUR: Final = frozenset(
    {MessageKind.MORNING_LIST, MessageKind.COVER_TONIGHT, MessageKind.HANDOVER, MessageKind.TEST}
)
"""The site, or a person, has said when."""


def route(message: Message, site: SiteFile, told: Sequence[tuple[str, int]], now: Ms) -> list[NewDelivery]:
    """Return one delivery a recipient and channel, in the order of the site file.

    Args:
        message: what is to be said.
        site: the set-up in force.
        told: (recipient, channel) that ever heard, or may have heard, of this pour and operation.
        now: [ms]
    """
    deliveries = {
        (person.id, new.channel): new
        for person in receivers(message, site)
        for new in to_person(person, _from_ms(message, person, site, now))
    }
    if message.kind in _TO_ALL_TOLD:
        for who, channel in told:
            deliveries.setdefault((who, channel), NewDelivery(RecipientId(who), channel, now))
    return list(deliveries.values())


def to_person(person: RecipientSettings, from_ms: Ms) -> list[NewDelivery]:
    """Return a delivery through each channel of a person."""
    return [NewDelivery(person.recipient_id, channel, from_ms) for channel in range(len(person.channels))]


def receivers(message: Message, site: SiteFile) -> list[RecipientSettings]:
    """Return the people with a channel whom a message is for; an urgent one that is for nobody is for everybody."""
    reachable = [person for person in site.recipient if person.channels]
    if message.kind is MessageKind.TEST:
        return [person for person in reachable if person.id == Facts(message.facts).text("recipient")]
    if message.kind is MessageKind.DELIVERY_FAILED:
        about = Facts(message.facts).text("recipient")
        reachable = [person for person in reachable if person.id != about]
        if duty := [person for person in on_duty(site) if person.id != about]:
            return duty
    roles = _roles(message, site)
    found = [person for person in reachable if person.role in roles]
    return reachable if not found and is_urgent(message) else found


def on_duty(site: SiteFile) -> list[RecipientSettings]:
    """Return the people with a channel of `site.duty`, in its order."""
    people = (site.person(who) for who in dict.fromkeys(site.site.duty))
    return [person for person in people if person is not None and person.channels]


def unreachable(site: SiteFile) -> Iterator[MessageKind]:
    """Yield what permits something or is urgent, and is set up to reach nobody with a channel."""
    reachable = {person.role for person in site.recipient if person.channels}
    yield from (kind for kind in MessageKind if kind in PERMITS | URGENT and not ROLES[kind] & reachable)


def _from_ms(message: Message, person: RecipientSettings, site: SiteFile, now: Ms) -> Ms:
    if is_urgent(message) or message.kind in AT_ITS_HOUR:
        return now
    together_ms = message.at_ms + TOGETHER_MS if message.kind in PERMITS else now
    shift = running_or_next(now, person.shift or site.site.shift, site.site.zone)
    return max(now, together_ms, shift.begins_ms)


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
