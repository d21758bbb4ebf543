"""Verdicts for displays on site, by MQTT: not retained, and repeated each minute with the hour until which they hold.

What is not repeated must not be believed: a display blanks at `valid_until`, so that silence of any cause shows.
"""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from threading import Event, Thread
from typing import Any, Final

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from cure.dashboard.api_views import RELEASED, hour, standing
from cure.dashboard.board import is_stopped
from deploy.wiring import Service
from ingest.address import BrokerAddress
from shared.errors import StoreError
from shared.models.base import BayId, Ms
from shared.models.setup import SiteFile
from shared.ports import BoardRow

LOG: Final = logging.getLogger(__name__)
EVERY_MS: Final = 60_000
HOLDS_MS: Final = 150_000
"""One may be lost, and one be late."""
SHORTEST_S: Final = 0.2
AGAIN_S: Final = 5.0
KEEPALIVE_S: Final = 15
CAUTION: Final = "Holds until valid_until only. The engineer of record, the contract and the local code govern."


@dataclass(frozen=True, slots=True)
class Verdict:
    """What stands at one bay."""

    topic: str
    said: Mapping[str, Any]


def verdicts(rows: Sequence[BoardRow], site: SiteFile, now: Ms, *, doubted: bool) -> Iterator[Verdict]:
    """Yield what a display of each bay shows; of a bay without an open pour, that there is none. Pure.

    Args:
        rows: open pours.
        site: the set-up in force.
        now: site time.
        doubted: whether the service itself is in doubt: nothing counts as released then.
    """
    open_here: Mapping[BayId, BoardRow] = {row.pour.bay: row for row in rows}
    for bay in site.bay:
        row = open_here.get(bay.bay_id)
        said: dict[str, Any] = {"site": site.site.id, "bay": bay.id, "pour": None if row is None else row.pour.id}
        said |= {"at": hour(now, site).isoformat(), "valid_until": hour(now + HOLDS_MS, site).isoformat()}
        said["operations"] = (
            {} if row is None else _operations(row, stopped=is_stopped(row, site, now, doubted=doubted))
        )
        said |= {"not_released_there": bay.exclusions, "caution": CAUTION}
        yield Verdict(f"slabhour/{site.site.id}/verdict/{bay.id}", said)


def _operations(row: BoardRow, *, stopped: bool) -> Mapping[str, Any]:
    found = {operation: standing(row, operation, stopped=stopped) for operation in row.gates}
    return {op: {"standing": shown, "released": shown in RELEASED} for op, shown in found.items()}


class Verdicts:
    """Publishes them from a thread of its own, while the site file wants them."""

    def __init__(self, broker: BrokerAddress, service: Service, rate: float = 1.0) -> None:
        """`rate`: site seconds a real second."""
        self._broker, self._service = broker, service
        self._every_s = max(SHORTEST_S, EVERY_MS / 1000.0 / rate)
        self._closing = Event()
        self._thread = Thread(target=self._run, name="verdicts", daemon=True)

    def start(self) -> None:
        """Begin, if the site file wants them."""
        if self._service.setup.site.broker.verdicts:
            self._thread.start()

    def close(self) -> None:
        """End."""
        self._closing.set()
        if self._thread.ident is not None:
            self._thread.join(10.0)

    def _run(self) -> None:
        while not self._closing.is_set():
            try:
                self._session()
            except (OSError, ValueError) as error:
                LOG.warning("verdicts are not published: %s", error)
            except Exception:
                LOG.exception("verdicts are not published")
            self._closing.wait(AGAIN_S)

    def _session(self) -> None:
        """Publish on one connection until it ends. Raises `OSError` when it does."""
        site_id = self._service.setup.site.site.site_id
        client = mqtt.Client(
            CallbackAPIVersion.VERSION2, client_id=f"slabhour-{site_id}-verdicts", protocol=mqtt.MQTTv311
        )
        self._broker.sign_in(client)
        client.connect(self._broker.host, self._broker.port, KEEPALIVE_S)
        due = time.monotonic()
        try:
            while not self._closing.is_set():
                if client.loop(0.1) != mqtt.MQTT_ERR_SUCCESS:
                    raise ConnectionError("the broker ended the connection")
                if client.is_connected() and time.monotonic() >= due:
                    due = time.monotonic() + self._every_s
                    self._publish(client)
        finally:
            client.disconnect()

    def _publish(self, client: mqtt.Client) -> None:
        board, now = self._service.book.board, self._service.clock.now()
        try:
            # Doubts first: an older row must not stand without a new one.
            doubted = bool(board.doubts())
            found = list(verdicts(board.board(), board.site(), now, doubted=doubted))
        except StoreError as error:
            LOG.error("no verdict can be told, displays go blank: %s", error)
            return
        for verdict in found:
            # QoS 0: nothing may keep one for later.
            client.publish(verdict.topic, json.dumps(verdict.said), qos=0, retain=False)
