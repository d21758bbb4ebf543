"""The [[topic]] and a good message of every format, for tests that walk the table."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import cbor2
from ingest_support import NOW, pack

from ingest.payloads import FORMATS
from ingest.payloads.decoded import Decoded, Told
from shared.models.base import Json, LoggerId
from shared.models.payloads import JsonTopic, SenmlTopic, TextTopic, TopicSettings

LORAWAN: Final = JsonTopic(
    filter="application/+/device/{logger}/event/up",
    format="json",
    records="[{c: '1', v: object.edge}, {c: '2', v: object.inside}]",
    channel="c",
    value="v",
    unit="degC",
    message_time="time",
    time_format="iso",
    time_of="receiving",
    sequence="fCnt",
    battery="object.battery",
    signal="max(rxInfo[].rssi)",
)
UPLINK: Final[dict[str, Json]] = {
    "deduplicationId": "3f1d9a52-0000-4000-8000-00000000a001",
    "time": "2026-11-24T09:00:00.412345678+00:00",
    "deviceInfo": {
        "tenantName": "yard",
        "applicationName": "slabs",
        "deviceName": "edge of bay 2-b1",
        "devEui": "00a1b2c3d4e5f601",
        "tags": {},
    },
    "devAddr": "00a1b2c3",
    "adr": True,
    "dr": 3,
    "fCnt": 41,
    "fPort": 2,
    "confirmed": False,
    "data": "CAIH0A==",
    "object": {"edge": 20.5, "inside": 19.25, "battery": 87},
    "rxInfo": [
        {"gatewayId": "00a1b2c3d4e5f6a1", "uplinkId": 7, "rssi": -97, "snr": 7.25},
        {"gatewayId": "00a1b2c3d4e5f6a2", "uplinkId": 9, "rssi": -81, "snr": 9.0},
    ],
    "txInfo": {"frequency": 904300000},
}
"""An uplink as ChirpStack 4 publishes it (its documentation, "Integrations: Event types"): names and nesting are those
of the page, read in copies of it; ids, readings and the decoded `object` are invented."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A [[topic]], what a topic of it tells, and a message with temperatures."""

    topic: TopicSettings
    told: Told
    payload: bytes

    def decode(self, payload: bytes) -> Decoded:
        """Decode bytes as of this topic."""
        return FORMATS[self.topic.format].make(self.topic)(self.told, payload)


_LG_01: Final = Told(LoggerId("lg-01"))
_BASE: Final = {"bn": "lg-01.", "bt": NOW / 1000, "bu": "Cel"}
SAMPLES: Final[Mapping[str, Sample]] = {
    "senml+json": Sample(
        SenmlTopic(filter="slabhour/millrace/r/{logger}", format="senml+json"),
        _LG_01,
        pack({**_BASE, "n": "1", "v": 20.5}, {"n": "2", "t": -900, "v": 19.25}, {"n": "seq", "v": 41}),
    ),
    "senml+cbor": Sample(
        SenmlTopic(filter="cbor/{logger}", format="senml+cbor"),
        _LG_01,
        cbor2.dumps(
            [
                {-2: "lg-01.", -3: NOW // 1000, -4: "Cel", 0: "1", 2: 20.5},
                {0: "2", 6: -900, 2: 19.25},
                {0: "seq", 2: 41},
            ]
        ),
    ),
    "json": Sample(LORAWAN, Told(LoggerId("00a1b2c3d4e5f601")), json.dumps(UPLINK).encode()),
    "text": Sample(
        TextTopic(filter="board/{logger}/{channel}", format="text", unit="degC"), Told(LoggerId("lg-01"), "1"), b"20.5"
    ),
}
"""One a format; a test wants one for every line of the table."""
