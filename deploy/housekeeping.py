"""What `serve` does every hour of site time: a backup, readings that may be forgotten, room given back to the disk.

What went wrong is kept in `housekeeping.json` in the data folder, for `slabhour status`, and withholds the heartbeat.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from threading import Event
from typing import Final

from deploy.backup import back_up, prune
from deploy.retention import Retention
from deploy.wiring import Service
from shared.errors import SlabError
from shared.models.base import HOUR_MS, Ms
from shared.models.setup import Setup
from shared.shifts import site_hour

LOG: Final = logging.getLogger(__name__)
FILE: Final = "housekeeping.json"
EVERY_MS: Final[Ms] = HOUR_MS
LOOK_S: Final = 60.0
"""Real time between two looks whether it is due."""
OLDEST_MS: Final[Ms] = 3 * HOUR_MS
"""A newest backup that is older is told, whatever kept a newer one from being made."""
NOT_BACKED_UP: Final = "nothing is backed up: [backup] folder is not set"


@dataclass(frozen=True, slots=True)
class State:
    """What the last time did."""

    at_ms: Ms = 0
    backup_ms: Ms | None = None
    backup: str | None = None
    """The newest backup that was made."""
    forgotten: int = 0
    """Readings, the last time."""
    wrong: tuple[str, ...] = ()


def state_of(folder: Path) -> State | None:
    """Return what the last time did; None: it was never done, or its file cannot be understood."""
    try:
        found = json.loads((folder / FILE).read_text(encoding="utf-8"))
        return State(**{**found, "wrong": tuple(found["wrong"])})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def wrong_now(setup: Setup, state: State, now: Ms, since_ms: Ms) -> list[str]:
    """Return what is wrong, one sentence each.

    Args:
        setup: of the site.
        state: what the last time did.
        now: the hour.
        since_ms: since when there could have been a backup.
    """
    wrong = list(state.wrong)
    if setup.site.backup.folder is not None and not now - max(state.backup_ms or 0, since_ms) <= OLDEST_MS:
        newest = "never" if state.backup_ms is None else site_hour(state.backup_ms, setup.site.site.zone)
        wrong.append(f"the newest backup is too old: {newest}; see [backup] folder")
    return wrong


def status_lines(setup: Setup, folder: Path, now: Ms) -> list[str]:
    """Return what `slabhour status` says of backups and housekeeping, read beside a running service."""
    state = state_of(folder)
    if setup.site.backup.folder is None:
        lines = [NOT_BACKED_UP]
    elif state is None or state.backup_ms is None:
        lines = ["no backup yet: the service makes one in its first minute and every hour"]
    else:
        lines = [f"newest backup: {site_hour(state.backup_ms, setup.site.site.zone)}, {state.backup}"]
    # Of a site that was never backed up the line above tells.
    since = 0 if state is not None and state.backup_ms is not None else now
    return [*lines, *(f"HOUSEKEEPING: {one}" for one in wrong_now(setup, state or State(), now, since))]


class EndedError(SlabError):
    """The service ends while a backup is being made."""


class Housekeeping:
    """Does it when it is due. `look` is for one thread, `wrong` for any."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._began = service.clock.now()
        self._ending = Event()
        self._state = state_of(service.folder) or State()

    def end(self) -> None:
        """Give up what is being copied."""
        self._ending.set()

    def wrong(self) -> list[str]:
        """Return what is wrong, one sentence each."""
        service = self._service
        return wrong_now(service.setup, self._state, service.clock.now(), self._began)

    def look(self) -> None:
        """Do it when the last time is an hour ago, or lies ahead: the clock was put back."""
        now = self._service.clock.now()
        if not 0 <= now - self._state.at_ms < EVERY_MS:
            self.run(now)

    def run(self, now: Ms) -> None:
        """Do it. What fails is kept, and hinders nothing else."""
        self._state = replace(self._state, at_ms=now, forgotten=0, wrong=())
        for what, do in (("backup", self._back_up), ("retention", self._forget), ("stores", self._tidy)):
            self._try(what, do, now)
        self._keep()

    def _try(self, what: str, do: Callable[[Ms], None], now: Ms) -> None:
        try:
            do(now)
        except EndedError:
            LOG.warning("%s: given up, the service ends", what)
        except SlabError as error:
            self._tell(f"{what}: {error}")
        except Exception as error:
            LOG.exception("%s failed", what)
            self._tell(f"{what}: {type(error).__name__}")

    def _tell(self, said: str) -> None:
        LOG.error("%s", said)
        self._state = replace(self._state, wrong=(*self._state.wrong, said))

    def _back_up(self, now: Ms) -> None:
        setup = self._service.setup
        if setup.site.backup.folder is None:
            return
        folder = Path(setup.folder, setup.site.backup.folder)
        path = back_up(setup, folder, now, self._copied)
        self._state = replace(self._state, backup_ms=now, backup=str(path))
        prune(folder, setup.site.site.id, setup.site.backup.keep)

    def _copied(self, _file: str, _fraction: float) -> None:
        if self._ending.is_set():
            raise EndedError("the service ends")

    def _forget(self, now: Ms) -> None:
        service = self._service
        wanted, site = service.setup.site.retention, service.setup.site.site
        # A clock that runs ahead would make everything old.
        if wanted.years is None or service.book.service.doubts() or not service.clock.synchronised():
            return
        archive = None if wanted.archive is None else Path(service.setup.folder, wanted.archive)
        task = Retention(service.readings, service.book.service, site.id, site.zone, wanted.years, archive)
        self._state = replace(self._state, forgotten=task.run(now))

    def _tidy(self, _now: Ms) -> None:
        for said in (self._service.readings.tidy(), self._service.book.service.tidy()):
            if said is not None:
                self._tell(said)

    def _keep(self) -> None:
        path = self._service.folder / FILE
        part = path.with_name(f".{FILE}.part")
        try:
            part.write_text(json.dumps(asdict(self._state)), encoding="utf-8")
            part.replace(path)
        except OSError as error:
            self._tell(f"{path} cannot be written: {error.strerror}")
