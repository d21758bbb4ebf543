"""Whatever a logger's clock, counter and interval do: no pour is credited more time than has passed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from cure_support import END_MS, make_case, placed
from hypothesis import given, settings
from hypothesis import strategies as st
from ingest_support import TOPIC, Bench, pack, placement, warm
from store_support import EDGE

from cure.bay import BayEvidence, evidence
from ingest.message import Incoming
from shared.models.base import HOUR_MS, MINUTE_MS, Json, Ms
from shared.models.payloads import TextTopic
from shared.models.setup import Zone

TOPIC_OF_EDGE = TOPIC.replace("lg-01", EDGE.partition(".")[0])
QUARTER_MS = 15 * MINUTE_MS
CASE = make_case(placements=(placed(EDGE, Zone.EXPOSED_EDGE),))


class Logger:
    """A logger at a bench: what it sends when, by a clock of its own."""

    def __init__(self) -> None:
        self.bench = Bench([placement(EDGE)], END_MS)
        self.boot, self.sequence = 0, 0

    def send(self, now_ms: Ms, taken: Sequence[Ms], celsius: float = 30.0) -> None:
        self.bench.clock.set(now_ms)
        facts: list[dict[str, Json]] = [{"n": f"{EDGE.partition('.')[0]}.boot", "vs": f"b{self.boot}"}]
        payload = pack(*(warm(celsius, t, EDGE) for t in taken), *facts)
        self.bench.intake.take([Incoming(TOPIC_OF_EDGE, payload)])

    def found(self, now_ms: Ms) -> BayEvidence:
        series = {EDGE: self.bench.readings.between(EDGE, 0, now_ms)}
        return evidence(CASE, series, now_ms, elapsed_ms=now_ms - END_MS)


def hours_at(found: BayEvidence, limit_c: float) -> float:
    counted = found.counted_h(limit_c)
    return 0.0 if math.isnan(counted) else counted


def credited_h(found: BayEvidence) -> float:
    return hours_at(found, -40.0)


@pytest.mark.row("L12", "L13", "L9", "E12")
@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([1, 5, 15, 20, 60, 180, 400]),
            st.sampled_from(["reading", "reboot", "resend", "lost"]),
            st.integers(0, 30),
        ),
        min_size=1,
        max_size=40,
    )
)
def test_reboots_other_intervals_resends_and_losses_never_credit_more_than_wall_time(
    steps: list[tuple[int, str, int]],
) -> None:
    logger, now, sent = Logger(), END_MS, [END_MS]
    logger.send(now, [now])
    gaps_ms = 0
    for minutes, what, back in steps:
        now += minutes * MINUTE_MS
        if what == "reboot":
            logger.boot += 1
            logger.bench.restarted()
        if what == "lost":
            continue
        if now - sent[-1] > 1.5 * QUARTER_MS:
            gaps_ms += now - sent[-1]
        sent.append(now)
        logger.send(now, sent[-1 - min(back, len(sent) - 1) :] if what == "resend" else [now])
    found = credited_h(logger.found(now))
    assert found <= (now - END_MS) / HOUR_MS + 1e-9
    # Without bay air no gap earns anything: so an interval of 3 h is one long gap after the other.
    most = (sent[-1] - END_MS - gaps_ms) / HOUR_MS
    assert found <= most + 1e-9
    # Three of them minute by minute after a gap may be held back ones with the hour of their arrival: none counts.
    if all(minutes > 1 for minutes, _, _ in steps):
        assert found == pytest.approx(most)


@pytest.mark.row("C1")
def test_a_clock_that_runs_twice_as_fast_earns_no_hour_before_it_has_passed() -> None:
    logger = Logger()
    for quarter in range(4 * 30):
        now = END_MS + quarter * QUARTER_MS // 2
        logger.send(now, [END_MS + quarter * QUARTER_MS])
        found = logger.found(now)
        assert credited_h(found) <= (now - END_MS) / HOUR_MS
        assert found.watermark_ms is None or found.watermark_ms <= now
    # It is refused for lying ahead, so it is silent, and its hours do not come true later either.
    late = END_MS + 60 * HOUR_MS
    assert credited_h(logger.found(late)) < 0.5
    assert not logger.found(late).fresh()


@pytest.mark.row("C1")
@pytest.mark.parametrize("back", [False, True])
def test_a_clock_that_steps_six_hours_ahead_earns_none_of_them(back: bool) -> None:
    logger = Logger()
    for quarter in range(4 * 12):
        now = END_MS + quarter * QUARTER_MS
        stepped = quarter >= 16 and not (back and quarter >= 32)
        logger.send(now, [now + (6 * HOUR_MS + 7000) * stepped])
        assert credited_h(logger.found(now)) <= (now - END_MS) / HOUR_MS
    assert credited_h(logger.found(now)) == (3.75 + 3.75 if back else 3.75)
    if not back:
        assert credited_h(logger.found(END_MS + 40 * HOUR_MS)) == 3.75


@pytest.mark.row("C1", "E12")
@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.tuples(st.integers(1, 60), st.integers(-6 * 60, 8 * 60)), min_size=1, max_size=40),
    st.floats(0.25, 4.0),
)
def test_whatever_a_loggers_clock_does_no_more_than_real_time_is_credited(
    steps: list[tuple[int, int]], speed: float
) -> None:
    logger, now, own = Logger(), END_MS, float(END_MS)
    for minutes, step in steps:
        now += minutes * MINUTE_MS
        own += minutes * MINUTE_MS * speed + (step * MINUTE_MS if step % 7 == 0 else 0)
        logger.send(now, [round(own / 1000) * 1000])
        assert credited_h(logger.found(now)) <= (now - END_MS) / HOUR_MS


@pytest.mark.row("C4")
@pytest.mark.parametrize("east", [False, True])
@pytest.mark.parametrize("night", [-1, 1], ids=["back", "ahead"])
def test_a_logger_set_to_local_time_earns_no_hour_twice_and_none_before_its_time(night: int, east: bool) -> None:
    logger, offset_ms, newest = Logger(), (2 if east else -4) * HOUR_MS, END_MS
    for quarter in range(4 * 30):
        now = END_MS + quarter * QUARTER_MS
        local = now + offset_ms + (night * HOUR_MS if quarter >= 4 * 15 else 0)
        newest = max(newest, local)
        logger.send(now, [local], 20.0 + quarter / 10)
        assert credited_h(logger.found(now)) <= (min(now, newest) - END_MS) / HOUR_MS
    # East of Greenwich all of it lies ahead. West of it, of 25.75 h, the hour that comes twice counts once and the one
    # that is left out is a gap.
    assert credited_h(logger.found(now)) == (0.0 if east else 24.75 if night < 0 else 25.5)


@pytest.mark.row("R3")
def test_a_buffer_stamped_on_arrival_earns_no_more_than_a_gap() -> None:
    logger = Logger()
    logger.send(END_MS, [END_MS])
    now = END_MS + 36 * HOUR_MS
    logger.send(now + 3000, [now + 30 * i for i in range(100)])
    assert credited_h(logger.found(now + 3000)) <= 3.0 / 3600


@pytest.mark.row("R3", "E12")
@settings(deadline=None, max_examples=40)
@given(
    st.integers(5, 30),
    st.lists(st.integers(-3, 2), min_size=10, max_size=40),
    st.lists(st.sampled_from([0.0, 0.5, 0.99]), min_size=40, max_size=40),
    st.sets(st.integers(0, 39), max_size=6),
)
def test_a_board_without_a_clock_is_credited_no_hour_that_the_same_slab_with_a_clock_is_not(
    start_c: int, changes_c: list[int], late: list[float], held_back: set[int]
) -> None:
    """Each value is late by less than an interval, and some come only with the next: the slab has no valley."""
    board = TextTopic(filter="board/{logger}/{channel}", format="text", unit="degC")
    clocked, clockless = Logger(), Bench([placement(EDGE)], END_MS, [board])
    quarters_c = [start_c, *(start_c + sum(sorted(changes_c, reverse=True)[: n + 1]) for n in range(len(changes_c)))]
    now, waiting = END_MS, []
    for n, celsius in enumerate(quarters_c):
        now = END_MS + n * QUARTER_MS
        clocked.send(now, [now], float(celsius))
        before = quarters_c[max(0, n - 1)]
        waiting.append(f"{celsius + (before - celsius) * late[n % 40]:.3f}".encode())
        if n not in held_back:
            clockless.clock.set(now)
            topic = f"board/{EDGE.replace('.', '/')}"
            clockless.intake.take([Incoming(topic, value, now) for value in waiting])
            waiting.clear()
    series = {EDGE: clockless.readings.between(EDGE, 0, now)}
    found = evidence(CASE, series, now, elapsed_ms=now - END_MS)
    real = clocked.found(now)
    for limit_c in range(-20, 40):
        assert hours_at(found, limit_c) <= hours_at(real, limit_c) + 1e-9
