"""The way in for a second process while the service owns the data folder: one act a connection, over a Unix socket."""

from __future__ import annotations

import json
import logging
import os
import socket
import struct
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from shared.errors import ActRefusedError, SlabError
from shared.models.acts import Act, act_from, act_to

LOG: Final = logging.getLogger(__name__)
LONGEST_BYTES: Final = 64 * 1024
PATIENCE_S: Final = 30.0
NAME: Final = "control.sock"
_UCRED: Final = struct.Struct("3i")


@contextmanager
def _address(folder: Path) -> Iterator[str]:
    """Lend a socket address in a data folder that is short however deep the folder lies: a path may hold 107 bytes."""
    directory = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        yield f"/proc/self/fd/{directory}/{NAME}"
    finally:
        os.close(directory)


class ControlSocket:
    """Listens in the data folder; only the service's own user, and root, are heard."""

    def __init__(self, folder: Path, apply: Callable[[Act], None]) -> None:
        self._path = folder / NAME
        self._apply = apply
        self._closing = threading.Event()
        self._path.unlink(missing_ok=True)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        old = os.umask(0o177)
        try:
            with _address(folder) as address:
                self._socket.bind(address)
        finally:
            os.umask(old)
        self._socket.listen(8)
        self._thread = threading.Thread(target=self._loop, name="control", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def close(self) -> None:
        """Stop listening and take the socket away."""
        self._closing.set()
        self._socket.shutdown(socket.SHUT_RDWR)
        self._thread.join(PATIENCE_S)
        self._socket.close()
        self._path.unlink(missing_ok=True)

    def _loop(self) -> None:
        while not self._closing.is_set():
            try:
                connection, _ = self._socket.accept()
            except OSError:
                return
            with connection:
                try:
                    connection.settimeout(PATIENCE_S)
                    connection.sendall(json.dumps(self._answer(connection)).encode() + b"\n")
                except OSError as error:
                    LOG.warning("a command went away before its answer: %s", error)

    def _answer(self, connection: socket.socket) -> dict[str, object]:
        credentials = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _UCRED.size)
        uid = _UCRED.unpack(credentials)[1]
        if uid not in {0, os.getuid()}:
            return {"refused": "only the user who runs the service may hand in acts here"}
        try:
            self._apply(act_from(json.loads(_line(connection))))
        except (ActRefusedError, ValidationError, ValueError) as error:
            return {"refused": str(error)}
        except Exception as error:
            LOG.exception("an act could not be carried out")
            return {"refused": f"the service could not carry it out: {error}"}
        return {"done": True}


def _line(connection: socket.socket) -> bytes:
    data = b""
    while not data.endswith(b"\n"):
        part = connection.recv(4096)
        if not part or len(data) > LONGEST_BYTES:
            raise ValueError("an act is one line of JSON, at most 64 KiB")
        data += part
    return data


def hand_in(folder: Path, act: Act) -> None:
    """Give an act to the service that owns the data folder.

    Raises:
        ActRefusedError: the service refused it.
        SlabError: nobody answers there.
    """
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.settimeout(PATIENCE_S)
        try:
            with _address(folder) as address:
                connection.connect(address)
            connection.sendall(json.dumps(act_to(act)).encode() + b"\n")
            answer = json.loads(_line(connection))
        except (OSError, ValueError) as error:
            raise SlabError(f"the service that holds {folder} does not answer: {error}") from error
    if "refused" in answer:
        raise ActRefusedError(str(answer["refused"]))
