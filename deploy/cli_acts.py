"""The commands by which people do something: one table, one way to hand an act in."""

from __future__ import annotations

import argparse
import json
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from alerts.transport import ChildTransport
from deploy.bay_pours import before, lines, open_pours, turned
from deploy.cli_site import DONE, WRONG_USAGE, add_site, aware, complain, say, setup_of
from deploy.control import hand_in
from deploy.folders import data_folder
from deploy.shift_cli import seen
from deploy.wiring import build
from shared.clock import SystemClock
from shared.errors import LockedError
from shared.models.acts import Act, act_from, act_to, instant
from shared.models.decisions import DoubtKind, HoldKind
from shared.models.setup import Setup, Zone

Given = dict[str, Any]
_TIME: Final[Given] = {"type": aware, "metavar": "TIME"}


def _on_off(text: str) -> bool:
    if text not in {"on", "off"}:
        raise argparse.ArgumentTypeError("on or off")
    return text == "on"


def _requirement(name: str) -> Any:
    """Return what a TOML or JSON file says; the act's own model judges it."""
    try:
        text = Path(name).read_text(encoding="utf-8")
        return json.loads(text) if name.endswith(".json") else tomllib.loads(text)
    except OSError as error:
        raise argparse.ArgumentTypeError(f"{name}: {error.strerror}") from None
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{name}: {error}") from None


ARGUMENTS: Final[Mapping[str, Given]] = {
    "bay": {"help": "bay of the site file"},
    "pour": {"help": "name of the pour; bay names are reused, pours are not"},
    "bay-or-pour": {"help": "a pour, or a bay with an open one"},
    "operation": {"help": "strip, walk, load, or one of the site's own"},
    "operations": {"nargs": "+", "help": "strip, walk, load, or one of the site's own"},
    "message": {"type": int, "help": "number of the message"},
    "hold": {"choices": [str(k) for k in HoldKind], "help": "which doubt"},
    "doubt": {"choices": [str(k) for k in DoubtKind], "help": "which doubt about the service itself"},
    "why": {"help": "the reason"},
    "on": {"type": _on_off, "metavar": "on|off", "help": "laid on or begun; taken off or ended"},
    "wanted": {**_TIME, "help": "2026-11-24T08:40:00-04:00"},
    "seen": {"metavar": "CODE", "help": "of the sheet, as `slabhour shift` shows it"},
    "--note": {"help": "what was said besides"},
    "name": {"help": "what the requirement asks for, word by word"},
    "reference": {"help": "where it lies: number, revision, file"},
    "requirement": {"type": _requirement, "metavar": "FILE", "help": "TOML or JSON: operation, all, signed_by"},
    "calibration": {"type": _requirement, "metavar": "FILE", "help": "its TOML, as `slabhour calibrate` wrote it"},
    "mix": {"help": "mix of the site file, as on the ticket"},
    "method": {"choices": ["cylinder", "pullout", "penetration", "cast-in-place cylinder"], "help": "which test"},
    "mpa": {"type": float, "help": "strength, MPa"},
    "recipient": {"help": "whose channels"},
    "sensor": {"help": "logger.channel, such as lg-01.1"},
    "zone": {"choices": [str(z) for z in Zone], "help": "where in the bay"},
    "--depth-mm": {"type": int, "help": "below the surface, mm"},
    "--interval-s": {"type": int, "help": "how often it measures, if not as the site's loggers do, s"},
    "--required": {"action": "store_true", "default": None, "help": "nothing is released without it"},
    "--not-required": {"dest": "required", "action": "store_false", "default": None, "help": "it only helps"},
    "bay?": {"nargs": "?", "help": "one bay; none: the whole site"},
    "--happened": {**_TIME, "help": "when, if it was earlier: 2026-11-24T08:40:00-04:00"},
    "--second-person": {"help": "who else says so: an earlier hour, and a required sensor taken away, need one"},
    "--second-person!": {"required": True, "help": "who else says so"},
    "--why": {"help": "the reason"},
    "--why!": {"required": True, "help": "the reason"},
    "--cause": {"required": True, "help": "why it was withdrawn"},
    "--surface-c": {"type": float, "help": "measured surface temperature, degC"},
    "--document": {"help": "the engineer's written disposition"},
    "--told": {"help": "for people who never answer: told by phone, whom, when"},
    "--until": {**_TIME, "required": True, "help": "end of it, at most 8 h ahead"},
    "--bay": {"help": "for one bay"},
    "--pour": {"help": "for one pour"},
    "--to": {"dest": "recipient", "help": "one recipient; none: everybody who had it"},
    "--equivalent-age-h": {"type": float, "help": "of the specimen, by its own temperature record"},
    "--last-third": {"action": "store_true", "help": "concrete, or a position, of the pour's last third"},
    "--temperature": {"dest": "temperature_c", "type": float, "required": True, "help": "degC"},
    "--position!": {"required": True, "help": "where, in words"},
    "--zone": {"choices": [str(z) for z in Zone], "help": "of the sensor that it stands in for; none: for no sensor"},
    "--under-insulation": {"action": "store_true", "help": "the probe lay under it; else it stands in for no sensor"},
    "--position": {"help": "where in the slab"},
    "--tested": {**_TIME, "help": "when, if it was earlier"},
    "--mix": {"required": True, "help": "as printed on the delivery ticket"},
    "--ticket": {"required": True, "help": "number of the delivery ticket"},
    "--below-c": {"type": float, "help": "what the space below is kept at, degC: without it no forecast goes by it"},
    "form-set": {"help": "its name"},
    "--waits": {"help": "the bay whose pour waits for it next"},
    "--gone": {"action": "store_true", "default": None, "help": "it is not on this site any more"},
    "--number": {"required": True, "help": "of the ticket"},
    "--batched": {**_TIME, "required": True, "help": "when it was batched, as printed"},
    "--placed": {**_TIME, "help": "when the last of it was placed, if it was earlier"},
    "--place": {"help": "where in the bay"},
    "--dose-class": {"help": "of accelerator or retarder, as the calibration names it"},
    "--water-l": {"type": float, "help": "added after batching, litres in the truck"},
    "--withheld-l": {"type": float, "help": "held back at the plant, as printed: so much may be added, litres"},
    "--air-percent": {"type": float, "help": "measured air content"},
    "--air-wanted-percent": {"type": float, "help": "air content as printed"},
    "--concrete-c": {"dest": "temperature_c", "type": float, "help": "temperature of the concrete as delivered, degC"},
    "--end": {**_TIME, "required": True, "help": "hour of the last concrete, as you know it"},
    "--loggers-alive": {"action": "store_true", "help": "you have seen all of its loggers alive"},
    "--plan-seen": {"action": "store_true", "help": "you have seen the plan that it is judged by"},
}


@dataclass(frozen=True, slots=True)
class Command:
    """One command: the act that it makes, and of what."""

    kind: str
    says: str
    arguments: tuple[str, ...]
    find: Callable[[Setup, Given], Given] | None = None
    """Fields that must be looked up on the board."""


def _open_pour(setup: Setup, given: Given) -> Given:
    """Return the fields with the pour in place of a bay's name."""
    name = given.pop("bay_or_pour")
    return {**given, "pour": open_pours(setup).get(name, name)}


OF_POUR: Final[Mapping[str, Command]] = {
    "start": Command("pour_start", "the first concrete is placed", ("bay", "pour", "--happened")),
    "end": Command(
        "pour_end",
        "the last concrete is placed; again with a later hour: it was later",
        ("pour", "--happened", "--second-person", "--why"),
    ),
    "take-back": Command(
        "take_back",
        "the start of a pour was a mistake: it is void, and the pour that it had ended goes on",
        ("pour", "why"),
    ),
    "begun": Command("under_way", "the crew has begun", ("pour", "operation")),
    "done": Command("done", "the operation is finished", ("pour", "operation")),
    "lift": Command("lift", "lift a hold", ("pour", "hold", "--surface-c", "--document", "--why")),
    "reopen": Command("reopen", "open a withdrawn gate again", ("pour", "operation", "--cause")),
    "forms-off": Command("forms_off", "forms were found off without a release", ("pour",)),
}
"""slabhour pour ..."""
TOP: Final[Mapping[str, Command]] = {
    "sign": Command("sign", "sign met requirements of a pour", ("pour", "operations")),
    "stop": Command("stop", "STOP: shut every gate of a pour; anyone may", ("bay-or-pour", "why"), _open_pour),
    "second-check": Command(
        "second_check",
        "say that you have checked a pour, as a second person",
        ("pour", "--mix", "--ticket", "--end", "--loggers-alive", "--plan-seen"),
    ),
    "mix": Command("mix", "another mix was delivered", ("pour", "mix", "--second-person!", "--why!")),
    "test-result": Command(
        "test_result",
        "enter a test of the concrete itself",
        ("pour", "method", "mpa", "--equivalent-age-h", "--last-third", "--position", "--tested"),
    ),
    "reading": Command(
        "hand_reading",
        "enter a temperature of the concrete, measured with a contact probe",
        ("bay-or-pour", "--temperature", "--position!", "--zone", "--under-insulation", "--happened"),
        _open_pour,
    ),
    "want": Command("want", "say by when an operation is wanted", ("pour", "operation", "wanted")),
    "cover": Command("cover", "a cover is laid on, or taken off", ("on", "pour", "--happened")),
    "heat": Command("heat", "the space below is heated, or not any more", ("on", "pour", "--below-c", "--happened")),
    "ticket": Command(
        "ticket",
        "enter the ticket of one truck; what is odd on it holds the pour",
        (
            *("pour", "--number", "--mix", "--batched", "--placed", "--place", "--dose-class", "--water-l"),
            *("--withheld-l", "--air-percent", "--air-wanted-percent", "--concrete-c"),
        ),
    ),
    "form-set": Command(
        "form_set",
        "a form set goes to a bay, or is laid aside; the first move makes it known",
        ("form-set", "--bay", "--waits", "--gone", "--happened"),
    ),
    "document": Command("document", "put a document on file", ("name", "reference", "--bay", "--pour")),
    "require": Command(
        "require", "write a requirement (engineer)", ("requirement", "--bay", "--second-person!", "--why!")
    ),
    "put-in-force": Command(
        "calibration",
        "put a mix's next calibration in force, for pours whose end is not entered",
        ("calibration", "--second-person!", "--why!"),
    ),
    "resume": Command("resume", "end a doubt about the service itself", ("doubt", "--why!")),
    "confirm": Command("confirm", 'answer a message: "area clear"', ("message", "--told")),
    "silence": Command("silence", "hold lesser messages back for a while", ("bay?", "--until", "--why!")),
    "take-over": Command("take_over", "take the shift over, having read its sheet", ("seen", "--note"), seen),
    "test-channels": Command("test_channels", "send a test message to somebody's channels", ("recipient",)),
}
OF_LOGGER: Final[Mapping[str, Command]] = {
    "place": Command(
        "place_sensor",
        "a sensor lies in a bay from now on; again, elsewhere: it was moved",
        (
            "sensor",
            "bay",
            "zone",
            "--position",
            "--depth-mm",
            "--interval-s",
            "--required",
            "--not-required",
            "--happened",
            "--second-person",
            "--why",
        ),
    ),
    "remove": Command("remove_sensor", "a sensor is not in its bay any more", ("sensor", "--second-person", "--why!")),
}
"""slabhour logger ..."""
RESEND: Final = Command("resend", "send a message once more, as a repeat of itself", ("message", "--to"))


def add_act(parser: argparse.ArgumentParser, command: Command, *, below: bool = False) -> None:
    """Give a parser the arguments of an act."""
    fields = []
    for name in command.arguments:
        spec = ARGUMENTS[name]
        plain = name.rstrip("!?")
        parser.add_argument(plain if plain.startswith("-") else plain.replace("-", "_"), **spec)
        fields.append(str(spec.get("dest", plain.lstrip("-").replace("-", "_"))))
    parser.add_argument("--who", required=True, help="your id in the site file")
    add_site(parser, below=below)
    parser.set_defaults(run=run_act, command=command, fields=fields)


def run_act(args: argparse.Namespace) -> int:
    """Make the act, and hand it to the running service, or carry it out when there is none."""
    given = {name: getattr(args, name) for name in args.fields if getattr(args, name) is not None}
    setup = setup_of(args)
    if args.command.find is not None:
        given = args.command.find(setup, given)
    was = before(setup, args.command.kind, given)
    act = carried_out(setup, args.command.kind, args.who, given)
    if act is None:
        return WRONG_USAGE
    after = turned(setup, args.command.kind, was)
    if args.json:
        say(json.dumps({"done": act_to(act)} | after))
        return DONE
    for line in (f"done: {act.kind.replace('_', ' ')} by {act.who}", *lines(after)):
        say(line)
    return DONE


def carried_out(setup: Setup, kind: str, who: str | None, given: Given) -> Act | None:
    """Make an act and have it carried out; None, and what is wrong is told, when it cannot be made."""
    try:
        act = act_from({"kind": kind, "at": instant(SystemClock().now()), "who": who, **given})
    except ValidationError as error:
        for fault in error.errors():
            complain(f"{'.'.join(map(str, fault['loc'][1:]))}: {fault['msg']}")
        return None
    _apply(setup, act)
    return act


def _apply(setup: Setup, act: Act) -> None:
    try:
        with build(setup, clock=SystemClock(), transport=ChildTransport(setup)) as service:
            service.apply(act)
    except LockedError:
        hand_in(data_folder(setup), act)
