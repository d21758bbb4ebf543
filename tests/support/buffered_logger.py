"""A logger that keeps each message until a broker has acknowledged it, and numbers them: the publisher's own ledger."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event, Thread

from ingest_support import until
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion


class Buffered:
    """Publishes without end at QoS 1, over every break of its connection."""

    def __init__(
        self,
        port: int,
        message: Callable[[int], tuple[str, bytes]],
        *,
        every_s: float = 0.004,
        user: tuple[str, str] | None = None,
    ) -> None:
        """`message`: topic and payload by number, from 0 on."""
        self.acknowledged: set[int] = set()
        self._message, self._every_s = message, every_s
        self._next = 0
        self._stopping = Event()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="logger", clean_session=False)
        self._client.reconnect_delay_set(1, 1)
        self._client.max_inflight_messages_set(20)
        if user is not None:
            self._client.username_pw_set(*user)
        self._client.on_publish = self._on_publish
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._thread = Thread(target=self._run, daemon=True)
        self._thread.start()

    def count(self) -> int:
        """Return how many messages a broker has acknowledged."""
        return len(self.acknowledged)

    def pause(self) -> None:
        """Say no more."""
        self._stopping.set()
        self._thread.join()

    def stop(self) -> int:
        """Say no more, wait until all is acknowledged; return how many messages there were."""
        self.pause()
        until(lambda: self.count() == self._next, 180)
        return self._next

    def end(self) -> None:
        """Hang up."""
        self.pause()
        self._client.disconnect()
        self._client.loop_stop()

    def _run(self) -> None:
        while not self._stopping.wait(self._every_s):
            topic, payload = self._message(self._next)
            sent = self._client.publish(topic, payload, qos=1)
            assert sent.mid == self._next + 1
            self._next += 1

    def _on_publish(self, _client: object, _data: object, mid: int, *_: object) -> None:
        self.acknowledged.add(mid - 1)
