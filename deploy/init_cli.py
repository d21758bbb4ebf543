"""The commands `slabhour init` and `slabhour logger credentials`."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Final

from deploy import credentials, new_site
from deploy.broker_parts import broker_address, filters_of
from deploy.cli_site import DONE, add_site, say, setup_of
from deploy.new_site import SITE_FILE, TLS, Wanted
from shared.errors import NewSiteError
from shared.models.setup import Setup

PLANS: Final = ("common-practice", "clock-or-strength", "strict")
RELOAD: Final = "systemctl reload slabhour-broker"
FOR_HTTP: Final = "readings by HTTP: after systemctl restart slabhour"


def add_init(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("folder", metavar="FOLDER", help="a new folder, or an empty one; with --renew that of the site")
    parser.add_argument("--id", metavar="ID", help="of the site: a-z, 0-9 and -; part of every topic")
    parser.add_argument("--name", help="as messages say it")
    parser.add_argument("--zone", help="IANA time zone of the site, such as America/Halifax")
    host = "name or address by which loggers and phones reach this machine; may be repeated"
    parser.add_argument("--host", action="append", default=[], metavar="HOST", help=host)
    parser.add_argument("--plan", choices=PLANS, default=PLANS[0], help=f"(default: {PLANS[0]})")
    parser.add_argument("--adopted-by", metavar="ENGINEER", help="who adopted the plan; goes with --document")
    parser.add_argument("--document", help="what the engineer signed")
    parser.add_argument("--calibration", type=Path, metavar="FILE", help="of the first mix, by slabhour calibrate")
    load = "the engineer's construction load of the first bay"
    parser.add_argument("--construction-load-kpa", type=float, metavar="KPA", help=load)
    parser.add_argument("--broker-host", default="localhost", help="where the service finds the broker (localhost)")
    parser.add_argument("--mqtt-port", type=_port, default=8883, help="(default: 8883)")
    parser.add_argument("--web-port", type=_port, default=8443, help="(default: 8443)")
    parser.add_argument("--renew", action="store_true", help="make only a new certificate, by the same authority")
    parser.add_argument("--json", action="store_true", help="print JSON")


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError("between 1 and 65535")
    return int(text)


def run_init(args: argparse.Namespace) -> int:
    """Make a new site in a folder: a commented site file, secrets, certificates, and the broker's files."""
    folder = Path(args.folder).resolve()
    if args.renew:
        hosts = new_site.renew(folder, args.host)
        then = [RELOAD.replace("reload", "restart"), "systemctl restart slabhour"]
        _tell(args, {"certificate": str(folder / TLS / "site.pem"), "hosts": hosts}, then)
        return DONE
    if missing := [f"--{one}" for one in ("id", "name", "zone", "host") if not getattr(args, one)]:
        raise NewSiteError(f"init needs {', '.join(missing)}: a site has no default for them")
    if (args.adopted_by is None) != (args.document is None):
        raise NewSiteError("--adopted-by and --document go together: who adopted the plan, and what was signed")
    made = new_site.make(
        folder,
        Wanted(
            id=args.id,
            name=args.name,
            zone=args.zone,
            hosts=args.host,
            plan=args.plan,
            adopted_by=args.adopted_by,
            document=args.document,
            calibration=args.calibration,
            load_kpa=args.construction_load_kpa,
            broker_host=args.broker_host,
            mqtt_port=args.mqtt_port,
            web_port=args.web_port,
        ),
    )
    site = folder / SITE_FILE
    broker, ca = folder / credentials.BROKER / "mosquitto.conf", folder / TLS / "ca.pem"
    then = [
        f"slabhour logger credentials lg-01 --site {site}",
        f"start the broker (mosquitto -c {broker}) and the service, as in deploy/RUNBOOK.md",
        f"slabhour check --site {site}",
        f"edit {site} where it says CHANGE; loggers and phones need {ca}",
    ]
    _tell(args, {"site": str(site), "files": [str(path.relative_to(folder)) for path in made]}, then)
    return DONE


def _tell(args: argparse.Namespace, found: dict[str, str | list[str]], then: list[str]) -> None:
    if args.json:
        say(json.dumps({**found, "next": then}))
        return
    for what, value in found.items():
        say(f"{what}: {value if isinstance(value, str) else ', '.join(value)}")
    for number, step in enumerate(then):
        say(f"{'next: ' if number == 0 else '      '}{step}")


def add_credentials(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("logger", help="a logger or gateway, such as lg-01")
    ways = parser.add_mutually_exclusive_group()
    ways.add_argument("--replace", action="store_true", help="make a new password in place of the one that it has")
    ways.add_argument("--remove", action="store_true", help="let it sign in no more")
    add_site(parser)


def run_credentials(args: argparse.Namespace) -> int:
    """Make the password with which a logger signs in at the broker and by HTTP; shown here, kept in a private file."""
    setup = setup_of(args)
    told = RELOAD if setup.site.broker.kind == "url" else "systemctl restart slabhour"
    then = [f"{told} (or SIGHUP to the broker), so that it counts", FOR_HTTP]
    if args.remove:
        credentials.take(setup, args.logger)
        _tell(args, {"removed": args.logger}, then)
        return DONE
    made = credentials.give(setup, args.logger, replace=args.replace)
    _tell(args, {"user": made.user, "password": made.password, **_where(setup, made.user)}, then)
    return DONE


def _where(setup: Setup, logger: str) -> dict[str, str | list[str]]:
    address = broker_address(setup)
    topics = [one.replace("{logger}", logger).replace("{channel}", "<channel>") for one in filters_of(setup)]
    ca = setup.site.broker.ca_file
    way: dict[str, str | list[str]] = {"broker": f"{address.host}:{address.port}", "topics": topics}
    if ca is not None:
        way["authority"] = str(Path(setup.folder, ca))
    return way
