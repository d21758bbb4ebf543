"""A store of readings of any kind in a folder, the server that it needs begun when the first test asks for it."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from influx_support import NEEDS_INFLUXDB, Server, influx_running, influx_setup, site_in
from store_support import make_setup

from shared.models.setup import Setup
from shared.ports import Readings
from shared.store import open_readings, read_readings

__all__ = ["NEEDS_INFLUXDB", "Stores", "setup_in"]


def setup_in(kind: str, folder: Path, url: str) -> Setup:
    """Return a set-up whose readings are in a folder, or on a server under a site of the folder's own."""
    return influx_setup(url, site_in(folder)) if kind == "influxdb" else make_setup()


class Stores:
    """Opens stores; one InfluxDB serves them all, each folder a site of its own on it."""

    def __init__(self, folder: Path, ending: ExitStack) -> None:
        self._folder = folder
        self._ending = ending
        self._url = ""
        self.server: Server | None = None

    def _url_for(self, kind: str) -> str:
        if kind == "influxdb" and not self._url:
            self.server, front = self._ending.enter_context(influx_running(self._folder))
            self._url = front.url
        return self._url

    def said(self, kind: str, folder: Path) -> list[str]:
        """Return what `writing_process.py` wants to know."""
        return [kind, str(folder), self._url_for(kind)]

    def open(self, kind: str, folder: Path) -> Readings:
        """Open the store of a folder, made if it is not there."""
        return open_readings(setup_in(kind, folder, self._url_for(kind)), folder)

    def read(self, kind: str, folder: Path) -> Readings:
        """Open the store of a folder strictly to read."""
        return read_readings(setup_in(kind, folder, self._url_for(kind)), folder)
