"""Debian's PostgreSQL on this machine, in a folder and on a socket of its own, ended by its own handle."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event
from typing import Final

import psycopg
import pytest

from shared.models.stores import PostgresqlSettings


def _programs() -> Path | None:
    """Return the folder of the newest server that Debian installed; it is not on the path."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda p: int(p.parts[-3]))
    return found[-1].parent if found else None


PROGRAMS: Final = _programs()
NEEDS_POSTGRESQL: Final = (
    pytest.mark.needs_postgresql,
    pytest.mark.skipif(PROGRAMS is None, reason="Debian's postgresql is not installed"),
)
_SETTINGS: Final = {"listen_addresses": "", "max_connections": "200", "shared_buffers": "64MB", "log_statement": "none"}
# The server refuses to run as root.
_AS: Final = {"user": "postgres", "group": "postgres"} if os.geteuid() == 0 else {}


class PostgresqlServer:
    """A server that can be killed and started again on what it left."""

    def __init__(self, folder: Path) -> None:
        """`folder`: empty, and one into which the server's own user can come."""
        assert PROGRAMS is not None
        self.programs = PROGRAMS
        self.folder = folder
        self._data = folder / "data"
        self._process: subprocess.Popen[bytes] | None = None
        self._made = 0
        if _AS:
            shutil.chown(folder, _AS["user"], _AS["group"])
        command = [self.programs / "initdb", "-D", self._data, "-U", "slabhour", "-A", "trust", "-E", "UTF8"]
        more = ["--locale=C", "--no-sync", "--no-instructions", "--data-checksums"]
        subprocess.run([*command, *more], check=True, capture_output=True, cwd=folder, **_AS)  # type: ignore[call-overload]

    def dsn(self, database: str) -> str:
        """Return the connection string of a database."""
        return f"host={self.folder} user=slabhour dbname={database}"

    def start(self, **settings: str) -> None:
        """Return when it answers."""
        said = _SETTINGS | {"unix_socket_directories": str(self.folder)} | settings
        more = [part for name, value in said.items() for part in ("-c", f"{name}={value}")]
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [self.programs / "postgres", "-D", self._data, *more], stdout=log, stderr=log, cwd=self.folder, **_AS
            )  # type: ignore[call-overload]
        end = time.monotonic() + 60
        while not self._answers():
            assert self._process.poll() is None, (self.folder / "log").read_text()[-2000:]
            assert time.monotonic() < end
            Event().wait(0.05)

    def _answers(self) -> bool:
        try:
            psycopg.connect(self.dsn("postgres")).close()
        except psycopg.OperationalError:
            return False
        return True

    def stop(self) -> None:
        """End it as Debian does, and wait."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(60)
            self._process = None

    def kill(self) -> None:
        """End it and all of its children without a chance to write anything down."""
        if self._process is not None:
            # Its children see that it is gone and end by themselves; a new one waits for them.
            self._process.kill()
            self._process.wait(60)
            self._process = None

    def made(self, template: str = "template0") -> str:
        """Make a database and return its name."""
        self._made += 1
        name = f"book_{self._made}"
        with psycopg.connect(self.dsn("postgres"), autocommit=True) as link:
            link.execute(f"CREATE DATABASE {name} TEMPLATE {template}".encode())
        return name


@contextmanager
def postgresql() -> Iterator[PostgresqlServer]:
    """Run a server on a disk in memory, if the machine has one: whether it keeps what it says is asked elsewhere."""
    memory = Path("/dev/shm")  # noqa: S108
    with tempfile.TemporaryDirectory(prefix="slabhour-pg-", dir=memory if memory.is_dir() else None) as folder:
        server = PostgresqlServer(Path(folder))
        server.start()
        try:
            yield server
        finally:
            server.stop()


class BooksOnServer:
    """Gives every folder that a test opens a book in a database of its own."""

    def __init__(self, server: PostgresqlServer, folder: Path) -> None:
        self._server = server
        self._folder = folder
        self._of: dict[Path, str] = {}

    def give(self, folder: Path, database: str) -> None:
        """Let the book of a folder be in a database."""
        self._of[folder] = database

    def settings(self, folder: Path) -> PostgresqlSettings:
        """Return the settings of the book of a folder."""
        if folder not in self._of:
            self.give(folder, self._server.made())
        file = self._folder / f"{self._of[folder]}.dsn"
        file.write_text(self._server.dsn(self._of[folder]), encoding="ascii")
        return PostgresqlSettings(kind="postgresql", dsn_file=str(file))
