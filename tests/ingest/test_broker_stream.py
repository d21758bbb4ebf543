from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

import pytest
from ingest_support import NOW, Bench, pack, until, warm
from mqtt_support import free_port, listener_of, send

from ingest import broker_stream
from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from ingest.broker_stream import keep_until_old
from shared.errors import BrokerError


def drained(broker: EmbeddedBroker, count: int) -> Bench:
    bench = Bench()
    with listener_of(BrokerAddress("127.0.0.1", broker.port), bench) as listener:
        until(lambda: listener.counters().acknowledged >= count)
    return bench


def readings(first: int, count: int) -> list[bytes]:
    return [pack(warm(20.0, NOW - n * 60_000)) for n in range(first, first + count)]


def kept_bytes(folder: Path) -> int:
    return sum(file.stat().st_size for file in folder.rglob("streams/$MQTT_msgs/msgs/*.blk"))


@pytest.mark.row("B1")
def test_what_waits_at_a_broker_that_forgot_what_was_acknowledged_is_kept_by_one_that_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = free_port()
    with monkeypatch.context() as patch:
        # As its server does by itself, and as a data folder of an earlier version has it.
        patch.setitem(broker_stream._CONFIG, "retention", "interest")
        with EmbeddedBroker(tmp_path, port) as before:
            drained(before, 0)
            send(port, readings(0, 20))
    with EmbeddedBroker(tmp_path, port) as broker:
        waiting = kept_bytes(tmp_path)
        assert len(drained(broker, 20).readings.stored) == 20
        send(port, readings(20, 30))
        assert (whole := kept_bytes(tmp_path)) > waiting
        assert len(drained(broker, 30).readings.stored) == 30
        # To acknowledge writes nothing more to where a message costs a sync.
        assert kept_bytes(tmp_path) == whole
    with EmbeddedBroker(tmp_path, port) as again:
        assert kept_bytes(tmp_path) == whole
        send(port, readings(50, 1))
        # What was acknowledged does not come again, though the broker has it still.
        assert len(drained(again, 1).readings.stored) == 1


@contextmanager
def answering(*said: bytes) -> Iterator[int]:
    """Lend the port of a server that says something, whatever it is told, and ends the connection."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def answer() -> None:
            connection, _ = server.accept()
            with connection:
                connection.sendall(b"INFO {}\r\n")
                connection.recv(4096)
                connection.sendall(b"".join(said))
                connection.shutdown(socket.SHUT_WR)
                while connection.recv(4096):
                    pass

        thread = Thread(target=answer)
        thread.start()
        try:
            yield server.getsockname()[1]
        finally:
            thread.join(60)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (b"-ERR 'Authorization Violation'\r\n", "Authorization Violation"),
        (b"", "it ended the connection"),
        (b"MSG _INBOX.slabhour 1 8\r\nnot json\r\n", "Expecting value"),
        (b'MSG _INBOX.slabhour 1 33\r\n{"error":{"err_code":10052,"x":1}}\r\n', "does not keep messages as it should"),
    ],
)
def test_a_broker_that_will_not_keep_messages_as_it_should_is_no_broker(said: bytes, why: str) -> None:
    with answering(b"PING\r\n", said) as port, pytest.raises(BrokerError, match=why):
        keep_until_old(port)
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        with pytest.raises(BrokerError, match="Connection refused"):
            keep_until_old(nobody.getsockname()[1])
