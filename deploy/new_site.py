"""A new site in a folder of its own: site file, secrets, certificates, and what its Mosquitto needs."""

from __future__ import annotations

import json
import os
import pwd
import secrets
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from string import Template
from typing import Final

from deploy import certificates
from deploy.credentials import BROKER, LOGGERS, PASSWORDS, SERVICE, hashed
from shared.errors import Fault, NewSiteError, SetupError
from shared.models.calibration import Calibration
from shared.sitefile import load, load_calibration

SITE_FILE: Final = "site.toml"
TLS: Final = "tls"
TEMPLATE: Final = Path(__file__).parent / "new" / SITE_FILE
SHIPPED: Final = Path(__file__).parent / "mosquitto"
THIS_MACHINE: Final = ("localhost", "127.0.0.1")
BROKER_USER: Final = "mosquitto"
FIRST_MIX: Final = "first-mix"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is known of a site before it has a site file."""

    id: str
    name: str
    zone: str
    hosts: Sequence[str]
    """By which loggers and phones reach the machine."""
    plan: str = "common-practice"
    adopted_by: str | None = None
    document: str | None = None
    calibration: Path | None = None
    load_kpa: float | None = None
    """The engineer's construction load of the first bay."""
    broker_host: str = THIS_MACHINE[0]
    """By which the service itself reaches the broker."""
    mqtt_port: int = 8883
    web_port: int = 8443


def make(folder: Path, wanted: Wanted) -> list[Path]:
    """Make a site in an empty folder, or none at all; return its files.

    Raises:
        NewSiteError: there is something in the folder, or the certificates cannot be made.
        SetupError: what is wanted cannot stand in a site file, or the calibration is none.
        OSError: the folder cannot be written.
    """
    hosts = list(dict.fromkeys(map(certificates.host, (*wanted.hosts, wanted.broker_host, *THIS_MACHINE))))
    given = None if wanted.calibration is None else load_calibration(wanted.calibration)
    with _whole_or_not(folder):
        _site_file(folder, wanted, given)
        _secrets(folder)
        _certificates(folder, wanted, hosts)
        _broker(folder, wanted)
        try:
            load(folder / SITE_FILE)
        except SetupError as error:
            # The lines of a file that goes away again help nobody.
            raise SetupError([Fault("init", None, f.field, f.found, f.allowed) for f in error.faults]) from error
    return sorted(path for path in folder.rglob("*") if path.is_file())


@contextmanager
def _whole_or_not(folder: Path) -> Iterator[None]:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise NewSiteError(f"{folder} is not empty: init writes over nothing; name a new folder, or move that one away")
    was_there = folder.exists()
    folder.mkdir(mode=0o755, parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        for path in folder.iterdir():
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        if not was_there:
            folder.rmdir()
        raise


def _site_file(folder: Path, wanted: Wanted, given: Calibration | None) -> None:
    mix = FIRST_MIX if given is None else given.mix
    file = '# calibration = "calibrations/first-mix-v1.toml"   # slabhour calibrate makes it; CHANGE'
    (folder / "calibrations").mkdir()
    if given is not None and wanted.calibration is not None:
        name = f"{given.mix}-v{given.version}.toml"
        shutil.copyfile(wanted.calibration, folder / "calibrations" / name)
        file = f"calibration = {_text(f'calibrations/{name}')}"
    adoption = '# adopted_by = "..."               # the engineer, and what the engineer signed: without both every\n'
    adoption += '# document = "..."                 # gate stays "not set up"'
    if wanted.adopted_by is not None and wanted.document is not None:
        adoption = f"adopted_by = {_text(wanted.adopted_by)}\ndocument = {_text(wanted.document)}"
    text = Template(TEMPLATE.read_text(encoding="utf-8")).substitute(
        id=_text(wanted.id),
        bare_id=wanted.id,
        name=_remark(wanted.name),
        name_text=_text(wanted.name),
        zone=_text(wanted.zone),
        plan=_text(wanted.plan),
        adoption=adoption,
        broker_url=_text(f"mqtts://{wanted.broker_host}:{wanted.mqtt_port}"),
        web_port=wanted.web_port,
        address=_address(wanted),
        mix=_text(mix),
        calibration=file,
        load=_load(wanted.load_kpa),
    )
    _write(folder / SITE_FILE, text, 0o640)


def _load(kpa: float | None) -> str:
    if kpa is None:
        return "# construction_load_kpa = 1.0    # the engineer's; without it load is never released"
    return f"construction_load_kpa = {kpa}"


def _address(wanted: Wanted) -> str:
    # A name or an IPv4 address, as the field takes it; of others the site says it.
    host = next((name for name in map(certificates.host, wanted.hosts) if ":" not in name), None)
    said = _text(f"https://{host or 'slabhour.site.example'}:{wanted.web_port}")
    return f"address = {said}  # by which phones reach the pages" if host is not None else f"# address = {said}"


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def _remark(value: str) -> str:
    return " ".join(value.split())


def _write(path: Path, text: str, mode: int) -> None:
    """Write a new file that never, not for a moment, can be read by more people than `mode` says."""
    fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(fd, "w", encoding="utf-8") as file:
        file.write(text)
    path.chmod(mode)


def _secrets(folder: Path) -> None:
    (folder / LOGGERS).parent.mkdir(mode=0o700)
    password = secrets.token_urlsafe(24)
    _write(folder / "secrets" / "broker", password + "\n", 0o400)
    _write(
        folder / LOGGERS, "# A line each: name, blank, password. slabhour logger credentials LOGGER adds one.\n", 0o600
    )
    (folder / BROKER).mkdir(mode=0o700)
    _write(folder / PASSWORDS, f"{SERVICE}:{hashed(password)}\n", 0o600)


def _certificates(folder: Path, wanted: Wanted, hosts: Sequence[str]) -> None:
    (folder / TLS).mkdir(mode=0o755)
    certificates.make_authority(folder / TLS, f"slabhour {wanted.id}")
    certificates.issue(folder / TLS, hosts)


def renew(folder: Path, hosts: Sequence[str]) -> list[str]:
    """Make a new certificate of a site, for the hosts of the old one if none are named; return them.

    The authority stays, so loggers and phones that know it need nothing.

    Raises:
        NewSiteError: there is no authority here, or openssl failed; the old certificate stays.
        OSError: a file cannot be written.
    """
    named = [certificates.host(one) for one in hosts]
    wanted = list(dict.fromkeys((*named, *THIS_MACHINE))) if named else certificates.hosts_of(folder / TLS)
    owner = (folder / TLS / certificates.KEY).stat()
    certificates.issue(folder / TLS, wanted)
    os.chown(folder / TLS / certificates.KEY, owner.st_uid, owner.st_gid)
    _hand_to_broker(folder)
    return wanted


def _broker(folder: Path, wanted: Wanted) -> None:
    (folder / BROKER / "data").mkdir(mode=0o700)
    shutil.copyfile(SHIPPED / "acl.conf", folder / BROKER / "acl.conf")
    (folder / BROKER / "acl.conf").chmod(0o600)
    _write(folder / BROKER / "mosquitto.conf", _broker_config(folder, wanted), 0o644)
    _hand_to_broker(folder)


def _broker_config(folder: Path, wanted: Wanted) -> str:
    """Return the shipped configuration with the places of this site."""
    text = (SHIPPED / "slabhour.conf").read_text(encoding="utf-8")
    begin = text.index("listener 8883")
    at = (folder / BROKER).resolve()
    # As root Mosquitto would become another user, who may read nothing here.
    owner = f"user {_broker_user() or 'root'}\n" if os.geteuid() == 0 else ""
    head = "# Mosquitto for one site, written by slabhour init. After a change: systemctl restart slabhour-broker\n\n"
    for shipped, ours in (
        ("listener 8883", f"listener {wanted.mqtt_port}"),
        ("/etc/mosquitto/certs/", f"{at}/"),
        ("/etc/mosquitto/slabhour.passwd", f"{at}/passwd"),
        ("/etc/mosquitto/conf.d/", f"{at}/"),
        ("persistence_location /var/lib/mosquitto/", f"{owner}persistence_location {at}/data/"),
    ):
        if shipped not in text[begin:]:
            raise NewSiteError(f"deploy/mosquitto/slabhour.conf does not hold {shipped!r}: install slabhour again")
        text = text[:begin] + text[begin:].replace(shipped, ours)
    return head + text[begin:]


def _broker_user() -> str | None:
    try:
        return pwd.getpwnam(BROKER_USER).pw_name
    except KeyError:
        return None


def _hand_to_broker(folder: Path) -> None:
    """Give the broker its own copy of certificate and key, and all that is its own, if this is root."""
    for name, mode in ((certificates.CERTIFICATE, 0o644), (certificates.KEY, 0o400)):
        new = folder / BROKER / f"{name}.new"
        new.unlink(missing_ok=True)
        _write(new, (folder / TLS / name).read_text(encoding="ascii"), mode)
        new.replace(folder / BROKER / name)
    user = _broker_user()
    if os.geteuid() == 0 and user is not None:
        for path in ((folder / BROKER), *(folder / BROKER).rglob("*")):
            shutil.chown(path, user, user)
