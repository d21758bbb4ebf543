"""Verdicts for displays: what they say, and that nothing keeps one."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from deploy_support import START_MS, write_site
from ingest_support import until
from mqtt_support import free_port
from pages_support import NOW, SITE, row
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from store_support import BAY, OTHER_BAY

from deploy.serve import running
from deploy.verdicts import HOLDS_MS, verdicts
from shared.clock import SimulatedClock
from shared.models.acts import instant
from shared.models.base import HOUR_MS, STRIP, WALK
from shared.models.decisions import GateState
from shared.ports import BoardRow
from shared.sitefile import load


def said(*rows: BoardRow, now: int = NOW, doubted: bool = False) -> dict[str, Any]:
    found = {v.topic: json.loads(json.dumps(v.said)) for v in verdicts(rows, SITE, now, doubted=doubted)}
    assert set(found) == {f"slabhour/millrace/verdict/{bay.id}" for bay in SITE.bay}
    return found


def test_a_display_is_told_what_stands_until_when_and_what_not() -> None:
    found = said(row(BAY, {STRIP: GateState.RELEASED, WALK: GateState.MET}))[f"slabhour/millrace/verdict/{BAY}"]
    assert {op: (s["standing"], s["released"]) for op, s in found["operations"].items()} == {
        "strip": ("released", True),
        "walk": ("met", False),
        "load": ("curing", False),
    }
    assert datetime.fromisoformat(found["valid_until"]) == instant(NOW + HOLDS_MS)
    assert "engineer of record" in found["caution"]
    empty = said()[f"slabhour/millrace/verdict/{OTHER_BAY}"]
    assert (empty["pour"], empty["operations"]) == (None, {})


@pytest.mark.parametrize(
    ("now", "doubted", "stripping", "standing"),
    [
        (NOW, True, (), {"in doubt"}),
        (NOW + 10 * HOUR_MS, False, (), {"in doubt"}),
        (NOW, False, (BAY,), {"released", "keep off"}),
    ],
)
def test_what_is_in_doubt_late_or_beside_a_stripping_is_not_released(
    now: int, doubted: bool, stripping: tuple[Any, ...], standing: set[str]
) -> None:
    of = row(BAY, {STRIP: GateState.RELEASED, WALK: GateState.RELEASED}, stripping=stripping)
    shown = said(of, now=now, doubted=doubted)[f"slabhour/millrace/verdict/{BAY}"]["operations"]
    assert {shown[op]["standing"] for op in ("strip", "walk")} == standing
    assert shown["walk"]["released"] is False


def test_the_service_repeats_them_on_its_broker_and_none_is_retained(tmp_path: Path) -> None:
    port = free_port()
    setup = load(write_site(tmp_path, **{"port = 1883": f"port = {port}\nverdicts = true"}))
    heard: list[mqtt.MQTTMessage] = []

    def listen() -> mqtt.Client:
        client = mqtt.Client(CallbackAPIVersion.VERSION2)
        client.on_message = lambda _c, _d, message: heard.append(message)
        client.connect("127.0.0.1", port)
        client.subscribe("slabhour/millrace/verdict/#", 1)
        client.loop_start()
        return client

    with running(setup, SimulatedClock(START_MS), rate=100.0):
        client = listen()
        try:
            # Each bay twice: repeated.
            until(lambda: len(heard) >= 2 * len(setup.site.bay))
        finally:
            client.disconnect()
            client.loop_stop()
    assert {m.topic for m in heard} == {f"slabhour/millrace/verdict/{bay.id}" for bay in setup.site.bay}
    assert not any(m.retain for m in heard)
    assert all(json.loads(m.payload)["valid_until"] for m in heard)
