"""A message of our own through the whole way in: broker, listener, commit, and read back from the book.

Sent by a client of its own, so that it is stopped by whatever stops a reading: a broker that takes and does not pass
on, a subscription that is gone, a writer that hangs, a store that says yes and keeps nothing.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from threading import Event
from typing import Final

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from ingest.address import BrokerAddress
from shared.models.base import SiteId

WITHIN_S: Final = 60.0
TAKEN_WITHIN_S: Final = 10.0
LOOK_EVERY_S: Final = 0.2
KEEPALIVE_S: Final = 15


class Canary:
    """Sends one at a time and waits until it is found."""

    def __init__(
        self, broker: BrokerAddress, site_id: SiteId, found: Callable[[], int | None], *, within_s: float = WITHIN_S
    ) -> None:
        """`found` returns the number of the canary that was stored last."""
        self._broker = broker
        self._client_id = f"slabhour-{site_id}-canary"
        self._topic = f"slabhour/{site_id}/canary"
        self._found = found
        self._within_s = within_s

    def fly(self, number: int, stop: Event) -> str | None:
        """Send one; return None once it is found in the book, or why it was not."""
        end = time.monotonic() + self._within_s
        try:
            self._publish(number, stop)
        except (OSError, ValueError) as error:
            return f"the canary could not be sent: {error}"
        while not stop.is_set() and self._found() != number:
            if time.monotonic() > end:
                return f"the canary was sent and did not come back within {self._within_s:.0f} s"
            stop.wait(LOOK_EVERY_S)
        return "stopping" if stop.is_set() else None

    def _publish(self, number: int, stop: Event) -> None:
        """Publish and wait for the broker's answer. Raises `OSError` when there is none."""
        client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=self._client_id, protocol=mqtt.MQTTv311)
        self._broker.sign_in(client)
        client.connect(self._broker.host, self._broker.port, KEEPALIVE_S)
        sent: mqtt.MQTTMessageInfo | None = None
        end = time.monotonic() + TAKEN_WITHIN_S
        try:
            while time.monotonic() < end and not stop.is_set():
                if client.loop(LOOK_EVERY_S) != mqtt.MQTT_ERR_SUCCESS:
                    raise ConnectionError("the broker ended the connection")
                if sent is None and client.is_connected():
                    sent = client.publish(self._topic, json.dumps({"canary": number}), qos=1)
                if sent is not None and sent.is_published():
                    return
            if not stop.is_set():
                raise TimeoutError("the broker did not take it")
        finally:
            client.disconnect()
