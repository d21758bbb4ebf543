"""The demo's story played in simulated time: makes the shipped acts and ledger, and is their test.

`python -m deploy.demo.rehearsal` writes `acts.jsonl` and `ledger.json` beside this file.
"""

from __future__ import annotations

import io
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from alerts.transport import RecordingTransport
from deploy.answers import with_names
from deploy.demo.ledger import LEDGER_FILE, Line, lines_of, to_json
from deploy.demo.people import LOOK_EVERY_MS, ScriptedPeople
from deploy.demo.scenario import CLOSE_MS, READINGS_FILE, SITE_FILE, opening_acts
from deploy.folders import with_data
from deploy.replay import Event, events, read_readings, steps, turn, write_acts
from deploy.replay_weather import Issued, told_of_weather
from deploy.wiring import Service, build, site_skies
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.acts import Act
from shared.models.messages import Message
from shared.models.readings import Reading
from shared.sitefile import load

ACTS_FILE: Final = Path(__file__).with_name("acts.jsonl")


@dataclass(frozen=True, slots=True)
class Played:
    """What came of a rehearsal."""

    acts: Sequence[Act]
    ledger: Sequence[Line]
    messages: Sequence[Message]
    refused: Sequence[str]


def play(readings: Sequence[Reading] | None = None, until_ms: int = CLOSE_MS, weather: Sequence[Issued] = ()) -> Played:
    """Run the scenario with its people through the real pipeline, in simulated time.

    Args:
        readings: of the loggers; None: the shipped ones.
        until_ms: where to end.
        weather: the demo's forecasts; without one nothing is foreseen, which changes what is told, and no decision.
    """
    given = read_readings(READINGS_FILE) if readings is None else readings
    todo = events(given, opening_acts(), weather)
    clock = SimulatedClock(todo[0].at_ms)
    with tempfile.TemporaryDirectory(prefix="slabhour-rehearsal-") as folder:
        setup = with_data(told_of_weather(load(SITE_FILE)) if weather else load(SITE_FILE), Path(folder))
        skies = site_skies(setup) if weather else None
        with build(setup, clock=clock, transport=RecordingTransport(), skies=skies) as service:
            refused = _drive(service, clock, todo, until_ms)
            board = service.book.board
            log = [entry for _, entry in board.log_after(0)]
            return Played(board.acts(), lines_of(log), board.messages(), refused)


def _drive(service: Service, clock: SimulatedClock, todo: Sequence[Event], until_ms: int) -> list[str]:
    people, looked, refused = ScriptedPeople(), 0, []
    for event in steps(todo, until_ms):
        if (error := turn(service, clock, event)) is not None:
            raise error
        if clock.now() - looked >= LOOK_EVERY_MS:
            looked = clock.now()
            for act in people.acts(service.book.board.board(), looked, service.book.board.messages()):
                try:
                    service.apply(act)
                except ActRefusedError as error:
                    refused.append(f"{act.kind}: {error}")
    return refused


def main() -> None:
    """Write the shipped acts and ledger."""
    played = play()
    text = io.StringIO()
    write_acts(text, with_names(played.acts, played.messages))
    ACTS_FILE.write_text(text.getvalue(), encoding="utf-8")
    LEDGER_FILE.write_text(to_json(played.ledger), encoding="utf-8")


if __name__ == "__main__":
    main()
