"""What was told and refused, in memory, a page at a time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from shared.models.base import PourId
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind
from shared.models.readings import Refusal
from shared.ports import Decided, PourCase, Which


@dataclass
class MemoryTold:
    """The `ToldBook` port, by number."""

    said: Sequence[Message] = ()
    sent: Sequence[Delivery] = ()
    cases: Mapping[PourId, PourCase] = field(default_factory=dict)
    standing: Sequence[Refusal] = ()

    def _of(self, which: Which) -> list[Message]:
        facts = {"bay": which.bay, "floor": which.floor}
        return [
            m
            for m in self.said
            if (not which.kinds or m.kind in which.kinds)
            and all(m.facts.get(name) == wanted for name, wanted in facts.items() if wanted)
            and which.pour in {"", m.pour}
            and (not which.before or m.no < which.before)
            and (not which.pours or m.pour in which.pours)
            and which.from_ms <= m.at_ms < (which.to_ms or m.at_ms + 1)
        ]

    def newest_messages(self, which: Which, limit: int) -> Sequence[Message]:
        return self._of(which)[::-1][:limit]

    def next_messages(self, which: Which, after: int, limit: int) -> Sequence[Message]:
        return [m for m in self._of(which) if m.no > after][:limit]

    def count_messages(self, which: Which) -> int:
        return len(self._of(which))

    def message(self, no: int) -> Message | None:
        return next((m for m in self.said if m.no == no), None)

    def deliveries_of(self, messages: Collection[int]) -> Sequence[Delivery]:
        return [d for d in self.sent if d.message in messages]

    def count_deliveries(self) -> Mapping[DeliveryState, int]:
        return Counter(d.state for d in self.sent)

    def waiting_messages(
        self, which: Which, answered: Collection[MessageKind], failed: Collection[DeliveryState], limit: int
    ) -> Sequence[Message]:
        def waits(message: Message) -> bool:
            states = {d.state for d in self.sent if d.message == message.no}
            if message.kind in answered:
                return DeliveryState.CONFIRMED not in states
            return bool(states & set(failed))

        return [m for m in self._of(which)[::-1] if waits(m)][:limit]

    def decided(self, pours: Collection[PourId]) -> Mapping[PourId, Decided]:
        return {pour: Decided(self.cases[pour].gates, self.cases[pour].holds) for pour in pours}

    def standing_refusals(self, limit: int) -> tuple[int, Sequence[Refusal]]:
        stand = [r for r in self.standing if r.decided_ms is None]
        return len(stand), stand[::-1][:limit]
