"""The MQTT listener: a message is acknowledged after it is durable, on the connection that brought it, or never.

Two threads. The network thread owns the client and is the only one to touch it: it queues what comes and sends the
acknowledgements, so none can slip onto a newer connection between a check and a reconnect. The writer thread stores.
"""

from __future__ import annotations

import logging
import math
import random
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from threading import Event, Thread
from typing import Any, Final

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from ingest.address import BrokerAddress
from ingest.alarms import DROPPED, Alarms
from ingest.reconnect import STEADY_S, delay_s
from ingest.unkept import Unkept
from ingest.weather_topic import Takes
from ingest.writer import Queued, Writer
from shared.clock import SystemClock
from shared.models.base import Ms, SiteId

KEEPALIVE_S: Final = 15
FULL_WAIT_S: Final = 1.0
AT_ONCE: Final = 200
"""Messages taken in one turn: to wait for each would cost as much as the message."""

_log = logging.getLogger(__name__)


@dataclass(slots=True)
class Counters:
    """What the listener did since it was made."""

    connections: int = 0
    sessions_lost: int = 0
    """Reconnects at which the broker had forgotten us, and with us what it held."""
    received: int = 0
    missed: int = 0
    """Not taken for want of room; the broker still has them."""
    dropped: int = 0
    """Not taken for want of room, and kept by nobody: sent at QoS 0."""
    acknowledged: int = 0
    stale: int = 0
    """Acknowledgements not sent because their connection was gone."""
    stored: int = 0
    store_failures: int = 0


@dataclass(frozen=True, slots=True)
class _Brought:
    """What an acknowledgement needs."""

    connection: int
    """Number of the connection that brought the message: on any other its `mid` means another one."""
    mid: int
    qos: int
    topic: str


class Listener:
    """Subscribes to a site's readings and feeds the intake."""

    def __init__(
        self,
        broker: BrokerAddress,
        site_id: SiteId,
        intake: Takes,
        *,
        roll: Callable[[], float] = random.random,
        wall_ms: Callable[[], Ms] | None = None,
        name: str = "ingest",
    ) -> None:
        """`roll`: chance from 0 to 1, for waits; `wall_ms`: this machine's hour; `name`: always its, and only its."""
        self._roll = roll
        self._listened = self._ended_by_us = False
        self._broker = broker
        self._client_id: Final = f"slabhour-{site_id}-{name}{broker.name_end}"
        self._alarms = Alarms(f"slabhour-{site_id}-{name}", SystemClock().now if wall_ms is None else wall_ms)
        self._subscriptions: Final = tuple(intake.subscriptions())
        self._canary: Final = f"slabhour/{site_id}/canary"
        self._intake = intake
        self.writer: Final = Writer(intake.take, self._ask_again)
        """What comes by other ways is handed in here too: there is one that stores."""
        self._thread = Thread(target=self._run, name="ingest-network", daemon=True)
        self._stored: deque[_Brought] = deque()
        self._unkept = Unkept()
        self._number = 0
        self._again = Event()
        self._missed = False
        self._draining = Event()
        self._leaving = Event()
        self._trouble: str | None = "not connected yet"
        self._counters = Counters()

    def start(self) -> None:
        """Start both threads; a broker that is not there is tried until it is."""
        self.writer.start()
        self._thread.start()

    def stop(self, timeout_s: float = 10.0) -> None:
        """Take nothing more, store and acknowledge what waits, disconnect, and join."""
        self._draining.set()
        if self._thread.ident is None:
            return
        self.writer.stop(timeout_s)
        self._leaving.set()
        self._thread.join(timeout_s)

    def healthy(self) -> str | None:
        """Return None, or the reason why readings do not come in."""
        if not (self._thread.is_alive() and self.writer.alive()):
            return "the listener does not run"
        if self._missed:
            return "too many messages wait to be stored"
        return self.writer.trouble or self._trouble

    def alarms(self) -> Sequence[str]:
        """Return what a person must know of the broker's last hour, though readings come in."""
        return self._alarms.told()

    def stale_s(self) -> float:
        """Return the real seconds since the writer last turned its loop; infinite when a thread has ended."""
        return self.writer.stale_s() if self._thread.is_alive() and self.writer.alive() else math.inf

    def waiting(self) -> int:
        """Return how many messages wait to be stored."""
        return self.writer.waiting()

    def counters(self) -> Counters:
        """Return the counters as they are now."""
        return replace(self._counters, stored=self.writer.stored, store_failures=self.writer.failures)

    # Called by the writer thread.

    def _ask_again(self) -> None:
        self._again.set()

    # The network thread.

    def _run(self) -> None:
        short = 0
        while not self._leaving.is_set():
            began = time.monotonic()
            try:
                self._connect_and_loop()
            except (OSError, ValueError) as error:
                self._say(f"no connection to the broker at {self._broker.host}:{self._broker.port}: {error}")
            except Exception as error:  # noqa: BLE001  a fault in a callback must cost a connection, not the thread
                _log.exception("the connection failed")
                self._say(f"the connection to the broker failed: {type(error).__name__}")
            short = 0 if time.monotonic() - began > STEADY_S else short + 1
            self._alarms.ended(soon=short > 0, granted=self._listened and not self._ended_by_us)
            self._listened = self._ended_by_us = False
            self._leaving.wait(delay_s(short, self._roll()))

    def _connect_and_loop(self) -> None:
        self._number += 1
        self._missed = False
        self._again.clear()
        self._unkept.emptied()
        # A new client each time: nothing of an older connection, queued packets least of all, can be sent on this one.
        client = self._client()
        client.connect(self._broker.host, self._broker.port, KEEPALIVE_S)
        while True:
            # Asked before the last acknowledgements are sent: whoever sets it has stored all there will be.
            leaving = self._leaving.is_set()
            result = self._turn(client)
            if result != mqtt.MQTT_ERR_SUCCESS:
                # A refused connection has said why already.
                if result != mqtt.MQTT_ERR_CONN_REFUSED:
                    self._say(f"the connection to the broker is lost: {mqtt.error_string(result)}")
                return
            self._acknowledge(client)
            if leaving or self._wants_resend():
                if self._trouble is None and not leaving:
                    self._say("disconnected by our own will, so that the broker sends again")
                client.disconnect()
                self._ended_by_us = True
                return
            if self._listened:
                self._alarms.connected()

    def _turn(self, client: mqtt.Client) -> MQTTErrorCode:
        """Wait until something has come, and take what lies ready."""
        heard, result = self._unkept.heard, client.loop(0.01 if self._at_work() else 0.1)
        for _ in range(AT_ONCE):
            if result != mqtt.MQTT_ERR_SUCCESS or self._unkept.heard == heard:
                self._unkept.emptied()
                break
            heard, result = self._unkept.heard, client.loop_read()
        return result

    def _client(self) -> mqtt.Client:
        client = mqtt.Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._client_id,
            clean_session=False,
            protocol=mqtt.MQTTv311,
            manual_ack=True,
        )
        client.on_connect = self._on_connect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        client.message_callback_add(DROPPED, lambda *said: self._alarms.dropped(said[2].payload, kept=said[2].retain))
        self._broker.sign_in(client)
        return client

    def _at_work(self) -> bool:
        return self.writer.busy or self.writer.waiting() > 0

    def _wants_resend(self) -> bool:
        if (topic := self._unkept.flood()) is not None:
            self._alarms.flooded(topic)
            return True
        # What was missed is asked for when there is room again, else it would be missed again.
        return self._again.is_set() or (self._missed and self.writer.waiting() == 0)

    def _acknowledge(self, client: mqtt.Client) -> None:
        while self._stored:
            brought = self._stored.popleft()
            if brought.qos == 0:
                self._unkept.stored(brought.topic)
            if brought.connection != self._number:
                self._counters.stale += 1
            elif client.ack(brought.mid, brought.qos) == mqtt.MQTT_ERR_SUCCESS:
                self._counters.acknowledged += 1

    def _on_connect(
        self,
        client: mqtt.Client,
        _data: Any,
        flags: mqtt.ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self._say(f"the broker refuses the connection: {reason}")
            return
        if self._counters.connections and not flags.session_present:
            self._counters.sessions_lost += 1
            self._alarms.session_lost()
        self._counters.connections += 1
        # Always, also into a kept session: some brokers lose subscriptions.
        client.subscribe([*self._subscriptions, (self._canary, 1), (DROPPED, 0)])

    def _on_subscribe(
        self, _client: mqtt.Client, _data: Any, _mid: int, reasons: list[ReasonCode], _properties: Properties | None
    ) -> None:
        wanted = [name for name, _ in (*self._subscriptions, (self._canary, 1))]
        refused = [name for name, reason in zip(wanted, reasons, strict=False) if reason.is_failure]
        if self._canary in refused:
            refused.remove(self._canary)
            _log.warning("the broker refuses the subscription to %s: no heartbeat can be sent", self._canary)
        if refused:
            self._say(f"the broker refuses the subscription to {', '.join(refused)}")
            # It is tried again, as a refused connection is: somebody may mend the broker's permissions.
            self._again.set()
        else:
            self._listened = True
            self._say(None)

    def _on_message(self, _client: mqtt.Client, _data: Any, message: mqtt.MQTTMessage) -> None:
        if self._draining.is_set() or self._missed:
            self._counters.missed += 1
            return
        self._counters.received += 1
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = "\ufffd"
        kept = message.qos > 0
        self._unkept.came(topic, kept=kept)
        if not kept and not self._unkept.room(topic, self.writer.waiting()):
            # To ask for it again would be in vain: no broker has it.
            self._counters.dropped += 1
            return
        waited = message.retain or message.dup or kept
        incoming = self._intake.incoming(topic, bytes(message.payload), may_have_waited=waited)
        brought = _Brought(self._number, message.mid, message.qos, topic)
        if not self.writer.offer(Queued(incoming, lambda _: self._stored.append(brought)), FULL_WAIT_S):
            self._counters.missed += 1
            self._missed = True
        elif not kept:
            self._unkept.waits(topic)

    def _say(self, trouble: str | None) -> None:
        if trouble != self._trouble:
            _log.log(logging.INFO if trouble is None else logging.WARNING, "%s", trouble or "listening")
        self._trouble = trouble
