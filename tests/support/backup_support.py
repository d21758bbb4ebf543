"""The little site with a released strip, run from an hour on and closed again."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from deploy_support import POUR, START_MS, act, history, poured, write_site
from sqlalchemy import text

from alerts.transport import RecordingTransport
from deploy.wiring import Service, build
from shared.clock import SimulatedClock
from shared.models.base import DAY_MS, HOUR_MS, STRIP, Ms, SensorId
from shared.models.decisions import GateState
from shared.models.setup import Setup
from shared.sitefile import load

HISTORY: Final = history(26)
SIGNED_MS: Final[Ms] = HISTORY[-1].received_ms + 61_000
"""When the little site's strip is signed."""
LATE: Final[Ms] = START_MS + 11 * 366 * DAY_MS
"""When its readings may be forgotten, if it is finished."""
EDGE, INSIDE, AIR = (SensorId(f"lg-{name}") for name in ("01.1", "01.2", "09.1"))


def little_setup(folder: Path, **changes: str) -> Setup:
    """Return the set-up of the little site, with an engineer, written into a folder."""
    engineer = '[[recipient]]\nid = "eng"\nrole = "engineer"\n[channel.email]'
    return load(write_site(folder, **{"[channel.email]": engineer, **changes}))


@contextmanager
def service_of(setup: Setup, now: Ms = SIGNED_MS) -> Iterator[tuple[Service, SimulatedClock]]:
    """Lend the service of a set-up, in simulated time."""
    clock = SimulatedClock(now)
    with build(setup, clock=clock, transport=RecordingTransport()) as service:
        yield service, clock


def release_strip(service: Service, clock: SimulatedClock) -> None:
    """Pour, bring the readings of 26 h in, sign the strip."""
    for one in poured():
        clock.set(one.at_ms)
        service.apply(one)
    clock.set(HISTORY[-1].received_ms)
    service.intake.take_rows(HISTORY)
    service.rounds.run_due()
    clock.set(SIGNED_MS)
    service.rounds.run_due()
    service.apply(act("sign", SIGNED_MS, pour=POUR, operations=["strip"]))
    assert strip_of(service) is GateState.RELEASED


def released_site(folder: Path) -> Setup:
    """Return the set-up of the little site after its strip was released and the service ended."""
    setup = little_setup(folder)
    with service_of(setup, poured()[0].at_ms) as (service, clock):
        release_strip(service, clock)
    return setup


def strip_of(service: Service) -> GateState:
    """Return where the strip of the little pour stands."""
    return service.book.board.board()[0].gates[STRIP].state


def later(hours: float) -> Ms:
    """Return an hour after the signature."""
    return SIGNED_MS + round(hours * HOUR_MS)


def finish(service: Service) -> None:
    """Set every gate of the little pour to done, as years of work would."""
    with service.book.writing() as connection:
        connection.execute(text("UPDATE gate SET state = 'done'"))
        connection.execute(text("DELETE FROM hold"))


def left(service: Service) -> int:
    """Return how many readings of the little bay are there."""
    return sum(len(service.readings.between(sensor, 0, 2**62)) for sensor in (EDGE, INSIDE, AIR))
