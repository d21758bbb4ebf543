"""Messages and their deliveries. Cure writes the facts, alerts the words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shared.models.base import Json, Ms, PourId, RecipientId
from shared.models.decisions import Gate


class MessageKind(StrEnum):
    """What a message is about."""

    SIGN_OFF_WANTED = "sign-off wanted"
    RELEASED = "released"
    MET_NOT_SIGNED = "requirement met, not signed"
    COLD_DELAY = "cold delay"
    FREEZE_SUSPECTED = "freeze suspected"
    FREEZE_LOCKED = "freeze locked"
    HOLD = "hold"
    LOGGER_SILENT = "logger silent"
    WITHDRAWAL = "withdrawal"
    KEEP_OFF = "keep off"
    RELEASED_EARLY = "released early"
    TOO_HOT = "too hot"
    TOO_STEEP = "temperature difference"
    FREEZING_AHEAD = "freezing ahead"
    DRYING_RISK = "drying risk"
    COVER_TONIGHT = "cover tonight"
    LOGGER_DOUBTFUL = "logger doubtful"
    LOW_BATTERY = "low battery"
    CALIBRATION = "calibration"
    DELIVERY_FAILED = "delivery failed"
    IN_DOUBT = "status in doubt"
    MORNING_LIST = "morning list"
    HANDOVER = "shift handover"
    TEST = "test"


PERMITS = frozenset({MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED, MessageKind.SIGN_OFF_WANTED})
"""Kinds that become void when their gate moves on: fenced before each attempt, with an end of validity."""
URGENT = frozenset(
    {
        MessageKind.WITHDRAWAL,
        MessageKind.KEEP_OFF,
        MessageKind.FREEZE_SUSPECTED,
        MessageKind.FREEZE_LOCKED,
        MessageKind.FREEZING_AHEAD,
        MessageKind.IN_DOUBT,
    }
)
"""Kinds that are sent at any hour, before all others."""


@dataclass(frozen=True, slots=True)
class NewMessage:
    """A message as cure writes it, in the transaction that changed the state. Unique: (pour, subject, epoch, kind)."""

    kind: MessageKind
    pour: PourId
    subject: str
    """The operation, or the sensor, or "" for the whole pour."""
    epoch: int
    at_ms: Ms
    valid_until_ms: Ms | None
    facts: Mapping[str, Json]


_LETTERS: Final = "ACDEFGHJKLMNPQRTUVWXY34679"
"""Of a check code: none of them is taken for another when it is read out."""


@dataclass(frozen=True, slots=True)
class Message:
    """A stored message: its running number is printed in every text."""

    no: int
    kind: MessageKind
    pour: PourId
    subject: str
    epoch: int
    at_ms: Ms
    valid_until_ms: Ms | None
    facts: Mapping[str, Json]
    log_seq: int = 0
    """Its line in the site's log..."""
    log_hash: str = ""
    """... and that line's hash: an anchor outside the book, wherever the message has gone."""

    @property
    def code(self) -> str:
        """The check code that the message and the board both show; "" before it is in the log."""
        if not self.log_hash:
            return ""
        number, letters = int(self.log_hash[:12], 16), ""
        for _ in range(4):
            number, rest = divmod(number, len(_LETTERS))
            letters += _LETTERS[rest]
        return letters


class DeliveryState(StrEnum):
    """Where one message to one recipient through one channel stands."""

    QUEUED = "queued"
    CALLING = "calling"
    ACCEPTED = "accepted"
    WAITING = "waiting"
    UNSURE = "unsure"
    SUPERSEDED = "superseded"
    REFUSED = "refused"
    ESCALATED = "escalated"
    CONFIRMED = "confirmed"


@dataclass(frozen=True, slots=True)
class Delivery:
    """The stored row; unique: (message, recipient, channel)."""

    no: int
    message: int
    recipient: RecipientId
    channel: int
    """Index in the recipient's `channels`."""
    state: DeliveryState = DeliveryState.QUEUED
    attempt: int = 0
    next_ms: Ms = 0
    lease_until_ms: Ms | None = None
    lease_token: str | None = None
    called_ms: Ms | None = None
    outcome: str = ""
    was_unsure: bool = False
    """An earlier attempt may have arrived: the text then says "repeat of"."""
    again: bool = False
    """A withdrawal that must go once more after the attempt that is running (its release came out late)."""
    accepted_ms: Ms | None = None
    """When a channel first accepted it."""
    was_accepted: bool = False
    """An earlier attempt was accepted, and no release can have come after it: a person may confirm it already."""


@dataclass(frozen=True, slots=True)
class NewDelivery:
    """A delivery as routing makes it."""

    recipient: RecipientId
    channel: int
    next_ms: Ms


@dataclass(frozen=True, slots=True)
class Due:
    """A delivery with all that decides whether it may go."""

    delivery: Delivery
    message: Message
    gate: Gate | None
    """The gate of (message.pour, message.subject), read in the same transaction."""
    busy: bool
    """Another row of the same (recipient, channel) is `calling`."""
    silenced: bool = False
    """A silence covers the bay or the site now."""
    inhibited: bool = False
    """A withdrawal or a freeze of the same pour is open, or its start was taken back."""
    kept_off: bool = False
    """A keep-off that names its bay stands: its strip is under way."""


class OutcomeKind(StrEnum):
    """What a transport said."""

    ACCEPTED = "accepted"
    NOT_NOW = "not now"
    """Known not accepted; worth another try."""
    NEVER = "never"
    """Known not accepted, for good."""
    UNSURE = "unsure"
    """Begun, outcome unknown."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """The answer of one attempt."""

    kind: OutcomeKind
    text: str


@dataclass(frozen=True, slots=True)
class Text:
    """A worded message."""

    subject: str
    body: str
    short: str
    """At most 140 characters of the GSM 7-bit alphabet, the verdict first."""
    html: str | None = None
    """The body for a mail reader that shows HTML, with a small chart; None: the body alone."""
