"""What Prometheus reads: bounded labels, no names, no secrets."""

from __future__ import annotations

from typing import Any

from pages_support import NOW, MemoryBoard, row
from prometheus_client.parser import text_string_to_metric_families
from store_support import BAY, OTHER_BAY, POUR

from deploy.metrics import metrics
from shared.models.base import STRIP, WALK, Operation
from shared.models.decisions import Doubt, DoubtKind, GateState
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind

LABELS = {"operation", "standing", "kind", "state", "loop"}


SENT = [Delivery(1, 1, "super", 0, DeliveryState.UNSURE)]  # type: ignore[arg-type]  # a plain name
SAID = [Message(7, MessageKind.RELEASED, POUR, "strip", 1, NOW, None, {"secret": "s3cret"})]


def scraped(board: Any) -> dict[tuple[str, tuple[str, ...]], float]:
    text = metrics(board, NOW, {"tick": lambda: 1.5}).decode()
    for hidden in ("s3cret", BAY, POUR, '"super"', "own step"):
        assert hidden not in text
    samples = [s for family in text_string_to_metric_families(text) for s in family.samples]
    assert {label for s in samples for label in s.labels} <= LABELS
    return {(s.name, tuple(s.labels.values())): s.value for s in samples}


def test_gates_doubts_and_deliveries_are_counted_by_words_of_ours() -> None:
    rows = (
        row(BAY, {STRIP: GateState.RELEASED, WALK: GateState.MET, Operation("own step"): GateState.CURING}),
        row(OTHER_BAY, {STRIP: GateState.UNDER_WAY}),
    )
    found = scraped(MemoryBoard(rows=rows, said=SAID, sent=SENT))
    assert found["slabhour_pours_open", ()] == 2
    assert found["slabhour_gates", ("strip", "released")] == 1
    assert found["slabhour_gates", ("walk", "met")] == 1
    assert found["slabhour_gates", ("walk", "keep off")] == 1
    assert found["slabhour_gates", ("other", "curing")] == 1
    assert found["slabhour_deliveries", ("unsure",)] == 1
    assert found["slabhour_messages_total", ()] == 7
    assert found["slabhour_evidence_age_seconds", ()] == 600
    assert found["slabhour_loop_stale_seconds", ("tick",)] == 1.5


def test_a_doubt_leaves_nothing_released_and_missing_evidence_is_no_age() -> None:
    doubts = [Doubt(DoubtKind.CLOCK, NOW, "jumped")]
    rows = (row(BAY, {STRIP: GateState.RELEASED}), row(OTHER_BAY, evidence_ms=None))
    found = scraped(MemoryBoard(rows=rows, said=SAID, sent=SENT, open_doubts=doubts))
    assert found["slabhour_gates", ("strip", "released")] == 0
    assert found["slabhour_gates", ("strip", "in doubt")] == 2
    assert found["slabhour_doubts", ("clock",)] == 1
    age = found["slabhour_evidence_age_seconds", ()]
    assert age != age
