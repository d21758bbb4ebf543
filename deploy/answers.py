"""Which message a confirmation answered: a replay may number messages otherwise, as forecasts tell more or less."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from shared.errors import ActRefusedError
from shared.models.acts import Act, Confirm
from shared.models.messages import Message


def named(message: Message) -> str:
    """Return what makes a message the same one in a replay: kind, pour, subject, epoch."""
    return f"{message.kind.value} {message.pour} {message.subject} {message.epoch}"


def with_names(acts: Iterable[Act], messages: Iterable[Message]) -> list[Act]:
    """Return acts to be recorded: each confirmation says which message it answered."""
    names = {message.no: named(message) for message in messages}
    return [
        act.model_copy(update={"answered": names.get(act.message)}) if isinstance(act, Confirm) else act for act in acts
    ]


def renumbered(act: Act, told: Callable[[], Sequence[Message]]) -> Act:
    """Return an act as a replay takes it: a confirmation of the newest message with the name that it says.

    Raises:
        ActRefusedError: the message that it answered was not told.
    """
    if not isinstance(act, Confirm) or act.answered is None:
        return act
    numbers = [message.no for message in told() if named(message) == act.answered]
    if not numbers:
        raise ActRefusedError(f"the message that it answered was not told here: {act.answered}")
    return act.model_copy(update={"message": numbers[-1]})
