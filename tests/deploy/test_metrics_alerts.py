"""The shipped alarms: each metric and label in them is one that the service tells, and each fires when it should."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import pytest
import yaml  # type: ignore[import-untyped]  # its types are no dependency
from influx_support import ask, victoria
from ingest_support import until
from pages_support import NOW, MemoryBoard, row
from prometheus_client.parser import text_string_to_metric_families
from repo_support import ROOT
from store_support import BAY, OTHER_BAY, POUR

from deploy.metrics import metrics
from shared.clock import SystemClock
from shared.models.base import HOUR_MS, STRIP
from shared.models.decisions import Doubt, DoubtKind, GateState, Hold, HoldKind
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind

RULES: Final = ROOT / "deploy" / "prometheus" / "alerts.yml"
OF_THE_COLLECTOR: Final = {"up": {"job": {"slabhour"}}}
"""What Prometheus itself tells of what it scrapes."""
WITH_A_PAST: Final = {"SlabhourDeliveryGivenUp", "SlabhourDeliveryUnsure", "SlabhourNoMessages"}


SENT: Final = [Delivery(1, 1, "super", 0, DeliveryState.WAITING)]  # type: ignore[arg-type]  # a plain name
TOLD: Final = [Message(7, MessageKind.RELEASED, POUR, "strip", 1, NOW, None, {})]


def told(how: str) -> str:
    """Return what a service tells that is "well", "ill" in most ways, or whose clock and rounds alone are: "stands"."""
    if how == "well":
        return metrics(MemoryBoard(rows=(row(BAY),)), NOW, {"tick": lambda: 0.5}).decode()
    old = NOW - 3 * HOUR_MS
    if how == "ill":
        hold = Hold(HoldKind.FREEZE_LOCKED, NOW, "engineer", "frozen", "in writing")
        rows = (row(BAY, {STRIP: GateState.WITHDRAWN}, evidence_ms=old, holds=(hold,)), row(OTHER_BAY))
        return metrics(MemoryBoard(rows=rows, sent=SENT, said=TOLD), NOW, {"tick": lambda: 90.0}).decode()
    one = row(BAY)
    late = replace(one, state=replace(one.state, as_of_ms=old, next_due_ms=old))
    board = MemoryBoard(rows=(late,), open_doubts=[Doubt(DoubtKind.CLOCK, NOW, "jumped")])
    return metrics(board, NOW, {"tick": lambda: 0.5}).decode()


@pytest.fixture(scope="module")
def rules() -> dict[str, dict[str, Any]]:
    groups = yaml.safe_load(RULES.read_text(encoding="utf-8"))["groups"]
    return {rule["alert"]: rule for group in groups for rule in group["rules"]}


@pytest.fixture(scope="module")
def known() -> dict[str, dict[str, set[str]]]:
    """Every metric that there is, with the values of its labels."""
    found: dict[str, dict[str, set[str]]] = dict(OF_THE_COLLECTOR)
    for family in text_string_to_metric_families(told("ill")):
        for sample in family.samples:
            labels = found.setdefault(sample.name, {})
            for label, value in sample.labels.items():
                labels.setdefault(label, set()).add(value)
    return found


def test_every_metric_and_label_of_an_alarm_is_told_and_every_metric_has_its_alarm(
    rules: dict[str, dict[str, Any]], known: dict[str, dict[str, set[str]]]
) -> None:
    asked: set[str] = set()
    for name, rule in rules.items():
        expr = rule["expr"]
        asked |= set(re.findall(r"\b(?:slabhour_\w+|up)\b", re.sub(r'"[^"]*"', "", expr)))
        for metric, matchers in re.findall(r"\b([a-z_]+)\{([^}]*)\}", expr):
            for label, wanted in re.findall(r'(\w+)=~?"([^"]*)"', matchers):
                assert set(wanted.split("|")) <= known[metric][label], f"{name}: {metric} has no {label} {wanted}"
    assert asked == set(known)


def test_every_alarm_says_how_bad_it_is_and_what_it_names_exists(
    rules: dict[str, dict[str, Any]], known: dict[str, dict[str, set[str]]]
) -> None:
    labels = {label for of in known.values() for label in of}
    for name, rule in rules.items():
        assert rule["labels"]["severity"] in {"page", "ticket"}, name
        said = rule["annotations"]["summary"]
        assert set(re.findall(r"\$labels\.(\w+)", said)) <= labels, name
        assert "safe" not in said.casefold()


@pytest.mark.skipif(shutil.which("vmalert") is None, reason="Debian's victoria-metrics is not installed")
def test_the_file_is_one_that_an_alarm_manager_reads() -> None:
    done = subprocess.run(
        ["vmalert", "-dryRun", f"-rule={RULES}"], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.needs_influxdb
@pytest.mark.skipif(shutil.which("victoria-metrics") is None, reason="Debian's victoria-metrics is not installed")
def test_what_is_ill_raises_its_alarm_and_what_is_well_none(rules: dict[str, dict[str, Any]], tmp_path: Path) -> None:
    server = victoria(tmp_path)
    server.start()
    try:
        at_ms = SystemClock().now() - 60_000
        for how in ("well", "ill", "stands"):
            body = told(how) + f'up{{job="slabhour"}} {0 if how == "ill" else 1}\n'
            target = f"/api/v1/import/prometheus?timestamp={at_ms}&extra_label=instance={how}"
            assert ask(server.port, "POST", target, body.encode())[0] < 300
        assert ask(server.port, "GET", "/internal/force_flush")[0] < 300

        def raised_by(expr: str) -> set[str]:
            status, answer = ask(server.port, "GET", f"/api/v1/query?time={at_ms / 1000}&query={quote(expr)}")
            assert status == 200, answer
            return {one["metric"]["instance"] for one in json.loads(answer)["data"]["result"]}

        until(lambda: raised_by("slabhour_pours_open > 0") == {"well", "ill", "stands"}, 60)
        raised = {name: raised_by(rule["expr"]) for name, rule in rules.items()}
    finally:
        server.kill()
    standing = {"SlabhourInDoubt", "SlabhourPoursLate"}
    # A pour without any reading is told as NaN, which this collector does not keep.
    ill = set(rules) - WITH_A_PAST - standing - {"SlabhourEvidenceMissing"}
    wanted = {name: {"ill"} for name in ill} | {name: {"stands"} for name in standing}
    assert {name: raised[name] for name in wanted} == wanted
