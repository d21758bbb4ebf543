"""`slabhour check`: is the site ready to run? Each finding says what was looked at and how to mend it."""

from __future__ import annotations

import smtplib
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from alerts import site_words
from alerts.routing import unreachable
from cure.maturity import contract_rate, overstatement
from deploy.anchors import anchors_of
from deploy.backup import found_in
from deploy.check_broker import PATIENCE_S, look_at_broker, reachable
from deploy.check_calibrations import with_put_in_force
from deploy.check_weather import look_at_weather
from deploy.folders import data_folder
from deploy.heartbeat import WATCHED_NOT, url_of
from deploy.housekeeping import NOT_BACKED_UP
from deploy.logger_keys import signing
from deploy.restored import unaccepted
from deploy.secret_files import secret_files
from deploy.web_loggers import taken_by_web
from deploy.web_server import tls_context, web_address
from shared.errors import LockedError, SlabError, StoreError
from shared.models.base import Ms
from shared.models.calibration import is_ahead
from shared.models.people import EmailAddress
from shared.models.setup import Setup
from shared.ports import Clock
from shared.shifts import day_of
from shared.store import has_book, open_book, open_readings, read_board, readings_server, verify_log
from shared.store.lock import DataLock

COLD_SITE_C: Final = 5.0
"""At which a law is looked at: the lowest temperature that common practice strips at."""


@dataclass(frozen=True, slots=True)
class Checked:
    """One thing looked at."""

    what: str
    ok: bool
    found: str
    mend: str = ""

    def __str__(self) -> str:
        line = f"{'ok   ' if self.ok else 'WRONG'} {self.what}: {self.found}"
        return line if self.ok else f"{line}\n      mend: {self.mend}"


def _stores(setup: Setup, clock: Clock) -> Checked:
    folder = data_folder(setup)
    try:
        with (
            DataLock(folder),
            closing(open_readings(setup, folder)),
            closing(open_book(setup, folder, clock.now())),
        ):
            return Checked("stores", True, f"both open in {folder}")
    except LockedError:
        return Checked("stores", True, f"in use by a running service in {folder}")
    except SlabError as error:
        return Checked("stores", False, str(error), "make the folder writable, or set [site] data to another one")


def _readings(setup: Setup, *, fix: bool) -> list[Checked]:
    """Look at the server of the readings, if they are on one; first make what it lacks, if that is wanted."""
    found = []
    try:
        server = readings_server(setup)
        if server is None:
            return []
        if fix:
            found = [Checked("readings", True, f"made: {made}") for made in server.mend()]
        found.append(Checked("readings", True, server.look()))
    except StoreError as error:
        mend = "see [stores]; slabhour check --fix makes what the server lacks; nothing is released meanwhile"
        found.append(Checked("readings", False, str(error), mend))
    return found


def _broker(setup: Setup, now: Ms) -> Checked:
    try:
        return Checked("broker", *look_at_broker(setup, now))
    except SlabError as error:
        return Checked("broker", False, str(error), "correct that file, or take it out of the site file")


def _web(setup: Setup) -> Checked:
    try:
        where = web_address(setup)
        tls_context(where)
        readings = taken_by_web(setup)
    except SlabError as error:
        return Checked("web", False, str(error), "correct that file, or take it out of the site file")
    if where.port == 0:
        return Checked("web", True, f"{where.host}, at a free port that is told at the start; {readings}")
    free = reachable(where.host, where.port) is not None
    found = "not running now" if free else "something answers: a running service, or another web server"
    return Checked("web", True, f"{where.url}, {found}; {readings}")


def _email(setup: Setup) -> list[Checked]:
    server = setup.site.channel.email
    if server is None:
        return []
    place = f"{server.host}:{server.port}"
    try:
        kind = smtplib.SMTP_SSL if server.security == "tls" else smtplib.SMTP
        with kind(server.host, server.port, timeout=PATIENCE_S) as smtp:
            smtp.noop()
    except (OSError, smtplib.SMTPException) as error:
        return [Checked("e-mail", False, f"{place}: {error}", "start the mail server, or correct [channel.email]")]
    return [Checked("e-mail", True, f"{place} answers")]


def _secrets(setup: Setup) -> list[Checked]:
    out = []
    for name in secret_files(setup):
        path = Path(setup.folder, name)
        mode = path.stat().st_mode & 0o077 if path.is_file() else None
        if mode is None:
            out.append(Checked("secret", False, f"{name} is not there", "write the secret into that file"))
        elif mode:
            out.append(Checked("secret", False, f"{name} can be read by others", f"chmod 600 {name}"))
        else:
            out.append(Checked("secret", True, f"{name} is private"))
    return out


def _set_up(setup: Setup) -> list[Checked]:
    out = []
    if setup.site.plan.adopted_by is None:
        mend = "the engineer adopts the plan: [plan] adopted_by and document"
        out.append(Checked("plan", False, 'not adopted: every gate stays "not set up"', mend))
    for mix in setup.site.mix:
        if mix.id not in setup.calibrations:
            mend = "calibrate it, and name the file in [[mix]] calibration, or put it in force (slabhour put-in-force)"
            out.append(Checked("mix", False, f"{mix.id} has no calibration: nothing of it is released", mend))
    for bay in setup.site.bay:
        if bay.construction_load_kpa is None:
            mend = "the engineer gives [[bay]] construction_load_kpa"
            out.append(Checked("bay", False, f'{bay.id} has no construction load: load stays "not set up"', mend))
    mailed = sum(isinstance(a, EmailAddress) for r in setup.site.recipient for a in r.channels)
    told = sum(bool(r.channels) for r in setup.site.recipient)
    out.append(Checked("recipients", True, f"{told} people can be told, {mailed} by e-mail"))
    mend = "give a [[recipient]] of a role that hears it a channel"
    out += [Checked("recipients", False, f"nobody can be told: {kind}", mend) for kind in unreachable(setup.site)]
    return out


def _calibrations(setup: Setup, now: Ms) -> list[Checked]:
    """Say of each calibration what a person should know of it: its end, a law that the contract asks for."""
    out, today = [], day_of(now, setup.site.site.zone)
    for mix, calibration in sorted(setup.calibrations.items()):
        named = f"{mix}, version {calibration.version}"
        until = calibration.valid_until
        if until is not None and until < today:
            mend = "calibrate the mix anew, and name the new file in [[mix]] calibration"
            out.append(Checked("calibration", False, f"{named}: only for pours through {until.isoformat()}", mend))
        if is_ahead(calibration.made_on, now):
            found = f"{named}: its cylinders were made on {calibration.made_on}, which has not been yet"
            mend = "look at made_on and valid_until of its file, and raise its version"
            out.append(Checked("calibration", False, found, mend))
        if calibration.law is None:
            continue
        over = overstatement(contract_rate(calibration.law), COLD_SITE_C)
        if over is not None:
            cold = f"would give {over.ratio:.2f} times the maturity of plain cement at {over.at_c:g} degC"
            found = f"{named}: the contract's law {cold}; there our own law counts, which is lower"
            out.append(Checked("calibration", True, found))
    return out


def _words(setup: Setup) -> Checked:
    try:
        site_words.load(Path(setup.folder, site_words.FOLDER))
    except SlabError as error:
        return Checked("words", False, str(error), "correct that file, or take it away")
    own = Path(setup.folder, site_words.FOLDER).is_dir()
    return Checked("words", True, "the site's own, where it has them" if own else "as they ship")


def _signing(setup: Setup) -> Checked:
    try:
        return Checked("signing", True, signing(setup))
    except SlabError as error:
        return Checked("signing", False, str(error), "correct [site] keys_file, or that file")


def _heartbeat(setup: Setup) -> Checked:
    try:
        url = url_of(setup)
    except SlabError as error:
        return Checked("heartbeat", False, str(error), "write the monitor's URL into that file")
    if url is None:
        return Checked("heartbeat", True, WATCHED_NOT)
    return Checked("heartbeat", True, f"a monitor is told every {setup.site.heartbeat.every_s} s; nothing was sent now")


def _backup(setup: Setup) -> Checked:
    folder = setup.site.backup.folder
    if folder is None:
        return Checked("backup", True, NOT_BACKED_UP)
    path = Path(setup.folder, folder)
    made = found_in(path, setup.site.site.id)
    newest = f"{len(made)} there, the newest {made[-1].name}" if made else "none yet"
    return Checked("backup", True, f"every hour into {path}: {newest}")


def _log(setup: Setup) -> Checked:
    folder = data_folder(setup)
    anchors = anchors_of(setup, folder)
    try:
        if not has_book(setup, folder):
            return Checked("log", True, "not begun: there is no site book yet")
        with read_board(setup, folder) as book:
            doubts = book.doubts()
        lines, _ = verify_log(setup, folder, anchors.read())
    except SlabError as error:
        return Checked("log", False, str(error), "restore the newest book; nothing is released meanwhile")
    if doubtful := unaccepted(folder):
        return Checked("log", False, doubtful[0], "start the service, then the engineer: slabhour resume log --why ...")
    if doubts:
        said = "; ".join(d.reason for d in doubts)
        mend = "mend it, then: slabhour resume " + " / ".join(d.kind for d in doubts)
        return Checked("log", False, f"in doubt, every gate is suspended: {said}", mend)
    elsewhere = "" if setup.site.site.anchors else "; on another disk ([site] anchors) they would be worth more"
    return Checked("log", True, f"{lines} lines, whole; its anchors are in {anchors.path}{elsewhere}")


def _clock(setup: Setup, clock: Clock) -> Checked:
    synchronised = clock.synchronised()
    if setup.site.site.clock_sync == "required" and not synchronised:
        mend = 'start a time service (chrony, systemd-timesyncd), or write clock_sync = "not-checked"'
        return Checked("clock", False, "not synchronised: every gate is suspended", mend)
    return Checked("clock", True, "synchronised" if synchronised else "not synchronised, and nobody asked for it")


def check(setup: Setup, clock: Clock, say: Callable[[Checked], None], *, fix: bool = False) -> bool:
    """Look at everything, say each finding, return whether all is well; with `fix` make what the stores lack."""
    setup, put = with_put_in_force(setup)
    found = [
        *_set_up(setup),
        *(Checked("calibration", True, said) for said in put),
        *_calibrations(setup, clock.now()),
        _stores(setup, clock),
        *_readings(setup, fix=fix),
        _broker(setup, clock.now()),
        _web(setup),
        _signing(setup),
        *_email(setup),
        *_secrets(setup),
    ]
    found += [Checked("weather", *looked) for looked in look_at_weather(setup, clock.now())]
    found += [_words(setup), _backup(setup), _log(setup), _heartbeat(setup), _clock(setup, clock)]
    for one in found:
        say(one)
    return all(one.ok for one in found)
