"""Messages as the pages show them: what was said, to whom, through what, and what became of it. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cure.dashboard.reader import Reader
from cure.dashboard.standing import Standing
from shared.catalogue import ENGLISH
from shared.models.base import Ms
from shared.models.messages import Delivery, DeliveryState, Message, Text
from shared.models.setup import SiteFile

D: Final = DeliveryState
SHAPES_OF: Final[Mapping[DeliveryState, str]] = {
    D.QUEUED: "clock",
    D.CALLING: "clock",
    D.ACCEPTED: "tick",
    D.WAITING: "clock",
    D.UNSURE: "doubt",
    D.SUPERSEDED: "ring",
    D.REFUSED: "cross",
    D.ESCALATED: "triangle",
    D.CONFIRMED: "tick",
}
"""One line a state of delivery: a state without one has no sign, and a test fails."""
ANSWERABLE: Final = frozenset({D.CALLING, D.WAITING, D.UNSURE})
"""States in which a message that was accepted before, and is being repeated, can be confirmed."""
Texts = Callable[[Message, str], Text]


@dataclass(frozen=True, slots=True)
class Reached:
    """One delivery."""

    recipient: str
    channel: str
    shape: str
    state: str
    detail: str
    """Attempts, hours and the channel's own words."""


@dataclass(frozen=True, slots=True)
class Told:
    """One message of the list."""

    no: int
    code: str
    hour: str
    subject: str
    reached: tuple[Reached, ...]
    standing: Standing | None
    """Of what permits or shuts something, whether it does so still."""


@dataclass(frozen=True, slots=True)
class Worded:
    """The exact words of a message in one language."""

    language: str
    name: str
    text: Text


def told(
    message: Message,
    deliveries: Sequence[Delivery],
    standing: Standing | None,
    site: SiteFile,
    now_ms: Ms,
    reader: Reader,
    texts: Texts,
) -> Told:
    """Return a message as the list shows it, by its own subject."""
    return Told(
        message.no,
        message.code,
        reader.hour(message.at_ms, now_ms),
        texts(message, reader.language).subject,
        tuple(_reached(d, site, now_ms, reader) for d in deliveries),
        standing,
    )


def _reached(delivery: Delivery, site: SiteFile, now_ms: Ms, reader: Reader) -> Reached:
    person = site.person(delivery.recipient)
    known = person is not None and delivery.channel < len(person.channels)
    channel = person.channels[delivery.channel].kind if person is not None and known else str(delivery.channel)
    said = [reader.say("attempts", count=delivery.attempt)] if delivery.attempt else []
    if delivery.accepted_ms is not None:
        said.append(reader.say("accepted-at", hour=reader.hour(delivery.accepted_ms, now_ms)))
    if delivery.outcome:
        said.append(reader.known(delivery.outcome))
    state = reader.say(f"delivery-{delivery.state.value}")
    return Reached(delivery.recipient, channel, SHAPES_OF[delivery.state], state, ", ".join(said))


def got_it(person: str | None, deliveries: Sequence[Delivery]) -> bool:
    """Return whether a person has a message and has not answered it yet."""
    mine = [d for d in deliveries if d.recipient == person]
    return any(d.state is D.ACCEPTED or (d.was_accepted and d.state in ANSWERABLE) for d in mine)


def worded(
    message: Message, deliveries: Sequence[Delivery], site: SiteFile, reader: Reader, texts: Texts
) -> list[Worded]:
    """Return the exact words in each language in which somebody gets them; English when nobody does."""
    people = (site.person(d.recipient) for d in deliveries)
    languages = dict.fromkeys([p.language for p in people if p is not None] or [ENGLISH])
    return [Worded(of, reader.say(f"language-{of}"), texts(message, of)) for of in languages]
