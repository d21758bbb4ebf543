"""Numbers for monitoring, in the text format of Prometheus. Labels are states and kinds of ours: bounded, no names."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping

from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily
from prometheus_client.metrics_core import Metric

from cure.dashboard.api_views import IN_DOUBT, KEPT_OFF, standing
from cure.dashboard.board import is_stopped
from shared.models.base import LOAD, STRIP, WALK, Ms, Operation
from shared.models.decisions import DoubtKind, GateState, HoldKind
from shared.models.messages import DeliveryState
from shared.ports import BoardBook, Which

OTHER = "other"
"""Stands for operations of a site's own: a label takes none of their names."""
OPERATIONS = (STRIP, WALK, LOAD)


class _Site:
    """What is read at each scrape."""

    def __init__(self, board: BoardBook, now: Ms, stale_s: Mapping[str, Callable[[], float]]) -> None:
        self._board, self._now, self._stale_s = board, now, stale_s

    def collect(self) -> Iterator[Metric]:
        site, doubts, rows = self._board.site(), self._board.doubts(), self._board.board()
        yield GaugeMetricFamily("slabhour_pours_open", "Pours that are watched.", value=len(rows))
        stand: Counter[tuple[str, str]] = Counter()
        for row in rows:
            stopped = is_stopped(row, site, self._now, doubted=bool(doubts))
            stand.update((_named(op), standing(row, op, stopped=stopped)) for op in row.gates)
        gates = GaugeMetricFamily(
            "slabhour_gates", "Gates of open pours by what stands.", labels=["operation", "standing"]
        )
        for operation in (*OPERATIONS, OTHER):
            for state in (*GateState, IN_DOUBT, KEPT_OFF):
                gates.add_metric([operation, state], stand[operation, state])
        yield gates
        kinds = Counter(hold.kind for row in rows for hold in row.holds)
        yield _by("slabhour_holds", "Doubts about pours that a person lifts.", "kind", {k: kinds[k] for k in HoldKind})
        open_kinds = Counter(doubt.kind for doubt in doubts)
        said = "Doubts about the service itself; every gate is suspended."
        yield _by("slabhour_doubts", said, "kind", {k: open_kinds[k] for k in DoubtKind})
        late = sum(is_stopped(row, site, self._now, doubted=False) for row in rows)
        yield GaugeMetricFamily("slabhour_pours_late", "Open pours that were due and not looked at.", value=late)
        yield self._evidence([e.evidence_ms for row in rows if (e := row.state.estimate) is not None])
        yield from self._told()
        yield from self._loops()

    def _evidence(self, evidence_ms: list[Ms | None]) -> Metric:
        said = "Age of the oldest evidence of an open pour; NaN: some pour has none."
        known = [at for at in evidence_ms if at is not None]
        whole = bool(known) and len(known) == len(evidence_ms)
        age_s = (self._now - min(known)) / 1000.0 if whole else float("nan")
        return GaugeMetricFamily("slabhour_evidence_age_seconds", said, value=age_s)

    def _told(self) -> Iterator[Metric]:
        states = self._board.count_deliveries()
        yield _by(
            "slabhour_deliveries",
            "Deliveries by where they stand.",
            "state",
            {s: states.get(s, 0) for s in DeliveryState},
        )
        newest = [message.no for message in self._board.newest_messages(Which(), 1)]
        yield CounterMetricFamily("slabhour_messages", "Messages ever written.", value=sum(newest))

    def _loops(self) -> Iterator[Metric]:
        said = "Seconds since a loop of the service last turned."
        loops = GaugeMetricFamily("slabhour_loop_stale_seconds", said, labels=["loop"])
        for name, stale_s in self._stale_s.items():
            loops.add_metric([name], stale_s())
        yield loops


def _named(operation: Operation) -> str:
    return operation if operation in OPERATIONS else OTHER


def _by(name: str, said: str, label: str, values: Mapping[str, int]) -> Metric:
    found = GaugeMetricFamily(name, said, labels=[label])
    for value, number in values.items():
        found.add_metric([str(value)], number)
    return found


def metrics(board: BoardBook, now: Ms, stale_s: Mapping[str, Callable[[], float]]) -> bytes:
    """Return what Prometheus reads.

    Args:
        board: the site book.
        now: site time.
        stale_s: seconds since each loop of the service last turned.

    Raises:
        StoreError: the book cannot be read.
    """
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_Site(board, now, stale_s))
    return generate_latest(registry)
