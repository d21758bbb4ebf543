"""The demo's virtual loggers: what they measure of the virtual slabs, when they send it, and the sending.

`python -m deploy.demo.loggers` prints the readings of the whole demo as CSV; `readings.csv` is its output.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from random import Random
from threading import Condition, Event
from types import TracebackType
from typing import Final, Self

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from deploy.demo.scenario import (
    CLOSE_MS,
    IN_AIR,
    NOISE_C,
    OFFSETS_C,
    OPEN_MS,
    POURS,
    RESOLUTION_C,
    SEED,
    SILENCES,
    SITE_FILE,
    Silence,
    Spot,
    at,
)
from deploy.demo.truth import truth
from deploy.demo.weather import weather
from shared import units
from shared.errors import BrokerError
from shared.models.base import MINUTE_MS, BayId, LoggerId, MilliC, Ms, SensorId
from shared.models.setup import BaySettings, SensorSettings, SiteFile, Zone

BEFORE_POUR_MS: Final = 30 * MINUTE_MS
"""Loggers are switched on so long before their pour."""
APART_MS: Final = 20_000
"""Logger n measures n times this after the quarter hour: they do not share a clock."""
DELAY_MS: Final = 3_000
"""From measuring to sending."""
PACK_TIMES: Final = 40
"""Measuring times in one pack of kept readings: well below the payload limit of 16 KiB."""
PACK_APART_MS: Final = 1_000

_SPOTS: Final[Mapping[Zone, Spot]] = {
    Zone.EXPOSED_EDGE: Spot.EDGE,
    Zone.LAST_PLACED_END: Spot.END,
    Zone.INTERIOR: Spot.INTERIOR,
    Zone.TOP: Spot.INTERIOR,
}


@dataclass(frozen=True, slots=True)
class PublishedReading:
    """A reading and when it is sent."""

    sensor: SensorId
    logger: LoggerId
    taken_ms: Ms
    milli_c: MilliC
    published_ms: Ms


@dataclass(frozen=True, slots=True)
class Pack:
    """One MQTT message."""

    topic: str
    published_ms: Ms
    payload: bytes


@cache
def site() -> SiteFile:
    """Return the demo's site file as it is written."""
    return SiteFile.model_validate(tomllib.loads(SITE_FILE.read_text(encoding="utf-8")))


def _felt_c(bay: BaySettings, sensor: SensorSettings, taken: Ms) -> float:
    """Return the temperature where the sensor lies. [degC]"""
    air_c = weather(taken).air_c
    if sensor.zone not in _SPOTS:
        return air_c
    depth_mm = float(bay.thickness_mm) / 2.0 if sensor.depth_mm is None else float(sensor.depth_mm)
    concrete_c = truth().temperature_c(bay.bay_id, _SPOTS[sensor.zone], depth_mm, taken)
    of_air = IN_AIR.get(sensor.sensor_id, 0.0)
    return of_air * air_c + (1.0 - of_air) * concrete_c


def _measured(bay: BaySettings, sensor: SensorSettings, taken: Ms, seed: int) -> MilliC:
    # Seeded by name and time: no reading depends on how many were made before it.
    noise_c = Random(f"{seed}/{sensor.id}/{taken}").gauss(0.0, NOISE_C)
    felt_c = _felt_c(bay, sensor, taken) + OFFSETS_C.get(sensor.sensor_id, 0.0) + noise_c
    return units.milli_c(round(felt_c / RESOLUTION_C) * RESOLUTION_C)


def _silence(logger: LoggerId, taken: Ms) -> Silence | None:
    return next((s for s in SILENCES if s.logger == logger and s.from_ms <= taken < s.to_ms), None)


def _sent_from(logger: LoggerId, taken: Ms) -> Ms | None:
    """Return the earliest hour at which a reading can be sent; None: it is lost."""
    silence = _silence(logger, taken)
    if silence is not None and not silence.kept:
        return None
    return max(taken + DELAY_MS, OPEN_MS, silence.to_ms if silence else 0)


def _number(logger: LoggerId) -> int:
    return int(logger.rpartition("-")[2])


def _measuring_times(logger: LoggerId, bay: BayId) -> Iterator[Ms]:
    interval = site().site.interval_s * 1000
    start = next(p.start_ms for p in POURS if p.bay == bay) - BEFORE_POUR_MS
    first = -(-start // interval) * interval + _number(logger) * APART_MS
    yield from range(first, CLOSE_MS + 1, interval)


def _raw(seed: int) -> Iterator[PublishedReading]:
    """Yield the readings that are ever sent, `published_ms` still the earliest possible, by logger and time."""
    for bay in site().bay:
        for logger in sorted({LoggerId(s.id.rpartition(".")[0]) for s in bay.sensors}):
            own = sorted((s for s in bay.sensors if s.id.startswith(f"{logger}.")), key=lambda s: s.id)
            for taken in _measuring_times(logger, bay.bay_id):
                ready = _sent_from(logger, taken)
                if ready is not None and ready <= CLOSE_MS:
                    for s in own:
                        yield PublishedReading(s.sensor_id, logger, taken, _measured(bay, s, taken, seed), ready)


def readings(seed: int = SEED) -> list[PublishedReading]:
    """Return every reading that is sent, in the order of sending; what was kept goes out in packs."""
    kept: dict[Ms, int] = {}
    out: list[PublishedReading] = []
    for (_, ready), group in groupby(_raw(seed), key=lambda r: (r.logger, r.published_ms)):
        sent = list(group)
        times = sorted({r.taken_ms for r in sent})
        for first in range(0, len(times), PACK_TIMES):
            chunk = times[first : first + PACK_TIMES]
            place = kept.get(ready, 0)
            if len(times) > 1:
                kept[ready] = place + 1
            when = ready + place * PACK_APART_MS
            out += [
                PublishedReading(r.sensor, r.logger, r.taken_ms, r.milli_c, when)
                for r in sent
                if chunk[0] <= r.taken_ms <= chunk[-1]
            ]
    return sorted(out, key=lambda r: (r.published_ms, r.logger, r.taken_ms, r.sensor))


def _payload(logger: LoggerId, rows: list[PublishedReading], boot: str, sequence: int) -> bytes:
    """Return a SenML pack, RFC 8428: base name and time, temperatures, then what the logger says of itself."""
    base_s = rows[0].taken_ms // 1000
    records: list[dict[str, object]] = [{"bn": f"{logger}.", "bt": base_s, "n": "boot", "vs": boot}]
    records.append({"n": "seq", "v": sequence})
    records += [
        {"n": r.sensor.rpartition(".")[2], "u": "Cel", "t": r.taken_ms // 1000 - base_s, "v": r.milli_c / 1000}
        for r in rows
    ]
    return json.dumps(records, separators=(",", ":")).encode()


def packs(sent: list[PublishedReading] | None = None) -> list[Pack]:
    """Return the messages of the whole demo in the order of sending."""
    out: list[Pack] = []
    sequences: dict[tuple[LoggerId, str], int] = {}
    rows = readings() if sent is None else sent
    for (when, logger), group in groupby(rows, key=lambda r: (r.published_ms, r.logger)):
        pack = list(group)
        anew = any(s.logger == logger and not s.kept and pack[-1].taken_ms >= s.to_ms for s in SILENCES)
        boot = f"{logger}-{'b' if anew else 'a'}"
        sequences[logger, boot] = sequences.get((logger, boot), 0) + 1
        payload = _payload(logger, pack, boot, sequences[logger, boot])
        out.append(Pack(f"slabhour/{site().site.id}/r/{logger}", when, payload))
    return out


def csv_text(sent: list[PublishedReading] | None = None) -> str:
    """Return the readings as `slabhour replay` reads them: sensor, taken_at, temperature_c, received_at."""
    rows = ["sensor,taken_at,temperature_c,received_at"]
    for r in readings() if sent is None else sent:
        taken, received = (at(instant).isoformat(timespec="seconds") for instant in (r.taken_ms, r.published_ms))
        rows.append(f"{r.sensor},{taken},{r.milli_c / 1000:.3f},{received}")
    return "\n".join(rows) + "\n"


class Publisher:
    """Publishes packs over real MQTT, QoS 1, as the site's clock reaches their hour. Holds one connection."""

    DEADLINE_S: Final = 15.0
    """Real time for a connection, and for the acknowledgements of one call."""

    def __init__(self, messages: Sequence[Pack], host: str, port: int) -> None:
        self._left = sorted(messages, key=lambda p: p.published_ms)
        self._where = (host, port)
        self._connected = Event()
        self._answered: set[int] = set()
        self._news = Condition()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="demo-loggers", protocol=mqtt.MQTTv311)
        self._client.on_connect = lambda _client, _data, _flags, reason, _properties: (
            None if reason.is_failure else self._connected.set()
        )
        self._client.on_publish = lambda _client, _data, mid, _reason, _properties: self._acknowledged(mid)

    def _acknowledged(self, mid: int) -> None:
        with self._news:
            self._answered.add(mid)
            self._news.notify_all()

    def __enter__(self) -> Self:
        host, port = self._where
        try:
            self._client.connect(host, port, keepalive=30)
        except OSError as error:
            raise BrokerError(f"the demo's loggers cannot reach {host}:{port}: {error}") from error
        self._client.loop_start()
        if not self._connected.wait(self.DEADLINE_S):
            self.close()
            raise BrokerError(f"the broker at {host}:{port} does not let the demo's loggers in")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give back the connection."""
        self._client.disconnect()
        self._client.loop_stop()

    @property
    def left(self) -> int:
        """How many packs are not published yet."""
        return len(self._left)

    def run_until(self, now: Ms) -> int:
        """Publish what is due, wait for the acknowledgements and return how many there were.

        Raises:
            BrokerError: the broker did not acknowledge in time.
        """
        due = [p for p in self._left if p.published_ms <= now]
        self._left = self._left[len(due) :]
        # A connection lost on the way comes back by itself, and what was not acknowledged goes out again.
        sent = {self._client.publish(p.topic, p.payload, qos=1).mid for p in due}
        with self._news:
            if not self._news.wait_for(lambda: sent <= self._answered, self.DEADLINE_S):
                missing = len(sent - self._answered)
                raise BrokerError(f"no acknowledgement of {missing} packs from the broker in {self.DEADLINE_S:.0f} s")
            self._answered -= sent
        return len(sent)


if __name__ == "__main__":
    sys.stdout.write(csv_text())
