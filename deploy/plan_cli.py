"""`slabhour plan`: before the pour. Its expected hours, what protects it, when to begin, which form set is short."""

from __future__ import annotations

import argparse
import csv
import io
import json
from collections.abc import Generator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from cure.chain_chart import chain_chart
from cure.dashboard.layers import Chart
from cure.dashboard.plan_ground import ground_of
from cure.dashboard.svgchart import alone, svgchart
from cure.forecast import Weather
from cure.plan_answer import Ground, Planned, answer
from cure.plan_chart import plan_chart
from cure.plan_limits import OPERATION, USUAL
from cure.plan_report import (
    case_json,
    case_lines,
    chain_json,
    chain_lines,
    chain_table,
    search_json,
    search_lines,
    search_table,
)
from cure.plan_request import Request, read
from cure.plan_sets import NOTHING_KNOWN
from cure.planned import MEMBERS
from cure.planner import Found, Tried
from cure.turnaround import Chain
from deploy.cli_site import DONE, add_site, aware, say, setup_of
from deploy.folders import data_folder
from deploy.plan_weather import of_file, of_site
from deploy.status import CAUTION, CAUTION_LINE
from shared.clock import SystemClock
from shared.errors import PlanError
from shared.models.base import BayId, Ms
from shared.models.setup import Setup
from shared.store import has_book, read_board

SPELT: Final = {
    "cover_r": "--cover",
    "low_c": "--air",
    "high_c": "--air",
    "window": "--until",
    "sequence": "--then",
    "sets": "--set",
    "name": "--set",
}
"""Options that are not called as the field of a request is."""
OF: Final[Mapping[str, tuple[str, str]]] = {
    "covers": ("least", "--least"),
    "heatings": ("least", "--least"),
    "every_h": ("until", "--until"),
    "set": ("then", "--then"),
    "turnaround_h": ("then", "--then"),
}
"""Options of a search, and by which it is asked for."""
PLAIN: Final = (
    *("bay", "start", "pour_h", "placing_c", "thickness_mm", "mix", "cement", "binder_kg", "water_binder", "fly_ash"),
    *("slag", "wind_m_s", "cover_on_h", "cover_for_h", "below_c", "below_for_h", "operation", "needs_h", "needs_c"),
    *("needs_mpa", "wanted", "chance"),
)
"""Options that are fields of a request."""


def _low_high(text: str) -> tuple[float, float]:
    try:
        low, high = (float(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not two temperatures like -2,6") from None
    return low, high


def _numbers(text: str) -> tuple[float, ...]:
    try:
        return tuple(float(part) for part in text.split(",") if part)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not numbers like 0.18,0.35") from None


def _then(text: str) -> dict[str, Any]:
    bay, at, hour = text.partition("@")
    if not at:
        raise argparse.ArgumentTypeError(f"{text!r} is not a bay and an hour like 2-b2@2026-11-24T08:40:00-04:00")
    return {"bay": bay, "start": aware(hour)}


def _set(text: str) -> dict[str, Any]:
    name, at, hour = text.partition("@")
    return {"name": name, "free": aware(hour)} if at else {"name": name}


def _usual(name: str, said: str) -> str:
    return f"{said} (default: {USUAL[name]:g})"


def add_plan(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    asked = (
        ("--bay", {"required": True, "help": "which is poured"}),
        ("--start", {"required": True, "type": aware, "metavar": "TIME", "help": "first concrete"}),
        ("--pour-h", {"type": float, "metavar": "H", "help": _usual("pour_h", "hours that the pour takes")}),
        ("--placing-c", {"type": float, "metavar": "DEGC", "help": _usual("placing_c", "as placed")}),
        ("--thickness-mm", {"type": float, "metavar": "MM", "help": "another than the bay's"}),
        ("--mix", {"help": "another than the bay's"}),
        ("--cement", {"metavar": "TYPE", "help": "of the mix, for its heat: I, II, III, V; with the two below"}),
        ("--binder-kg", {"type": float, "metavar": "KG", "help": "cement and what replaces it, in a cubic metre"}),
        ("--water-binder", {"type": float, "metavar": "RATIO", "help": "water by binder, by mass"}),
        ("--fly-ash", {"type": float, "metavar": "SHARE", "help": "of --binder-kg (default: 0)"}),
        ("--slag", {"type": float, "metavar": "SHARE", "help": "of --binder-kg (default: 0)"}),
        ("--weather", {"metavar": "FILE", "help": "CSV or JSON, as [weather] reads it"}),
        ("--air", {"type": _low_high, "metavar": "LOW,HIGH", "help": "days that are all alike, degC, in its place"}),
        ("--wind-m-s", {"type": float, "metavar": "M/S", "help": _usual("wind_m_s", "with --air")}),
        ("--cover", {"type": float, "metavar": "R", "help": "of a cover, m2K/W (default: none)"}),
        ("--cover-on-h", {"type": float, "metavar": "H", "help": _usual("cover_on_h", "laid so long after the end")}),
        ("--cover-for-h", {"type": float, "metavar": "H", "help": "taken off after (default: it stays)"}),
        ("--below-c", {"type": float, "metavar": "DEGC", "help": "the space below is heated to"}),
        ("--below-for-h", {"type": float, "metavar": "H", "help": "heated for (default: on and on)"}),
        ("--operation", {"help": f"of which it is asked (default: {OPERATION})"}),
        ("--needs-h", {"type": float, "metavar": "H", "help": "in place of its requirement: counted hours"}),
        ("--needs-c", {"type": float, "metavar": "DEGC", "help": "at or above which they count"}),
        ("--needs-mpa", {"type": float, "metavar": "MPA", "help": "lower bound of strength"}),
        ("--wanted", {"type": aware, "metavar": "TIME", "help": "by when it is wanted"}),
        ("--chance", {"type": float, "help": _usual("chance", "with which")}),
        ("--covers", {"type": _numbers, "metavar": "R,R", "help": "with --least: what covers there are"}),
        ("--heatings", {"type": _numbers, "metavar": "C,C", "help": "with --least: to what the space can be heated"}),
        ("--every-h", {"type": float, "metavar": "H", "help": _usual("every_h", "with --until")}),
        ("--set", {"action": "append", "type": _set, "metavar": "NAME[@TIME]", "help": "with --then: a form set"}),
        ("--turnaround-h", {"type": float, "metavar": "H", "help": _usual("turnaround_h", "to move a set, in shifts")}),
        ("--members", {"type": int, "default": MEMBERS, "help": f"of the ensemble (default: {MEMBERS})"}),
        ("--out", {"metavar": "FILE.svg", "help": "write the chart; of a search or of --then a table too, FILE.csv"}),
    )  # fmt: skip
    for name, options in asked:
        parser.add_argument(name, **options)
    search = parser.add_mutually_exclusive_group()
    search.add_argument("--least", action="store_true", help="find the least protection that meets it")
    search.add_argument("--until", type=aware, metavar="TIME", help="find the best start from --start to here")
    search.add_argument(
        "--then", type=_then, action="append", metavar="BAY@TIME", help="the pours after it, as planned: form sets"
    )
    add_site(parser)


def _spell(name: str) -> str:
    return SPELT.get(name, f"--{name.replace('_', '-')}")


def _request(args: argparse.Namespace) -> Request:
    """Return what is asked. Raises `PlanError` for what would do nothing, or no pour has."""
    idle = [
        f"{_spell(n)}: {by} too, or neither" for n, (of, by) in OF.items() if _given(args, n) and not _given(args, of)
    ]
    if args.weather is not None and args.air is not None:
        idle.append("--weather and --air are two answers to one question: give one")
    if idle:
        raise PlanError("; ".join(idle))
    said = {name: getattr(args, name) for name in PLAIN if _given(args, name)}
    if args.cover is not None:
        said["cover_r"] = args.cover
    if args.air is not None:
        said |= dict(zip(("low_c", "high_c"), args.air, strict=True))
    if args.least:
        said["least"] = {name: getattr(args, name) for name in ("covers", "heatings") if _given(args, name)}
    if args.until is not None:
        said["window"] = {"until": args.until, **({} if args.every_h is None else {"every_h": args.every_h})}
    if args.then is not None:
        said["sequence"] = {"then": args.then, "sets": args.set or ()}
        said["sequence"] |= {} if args.turnaround_h is None else {"turnaround_h": args.turnaround_h}
    return read(said, _spell)


def _given(args: argparse.Namespace, name: str) -> bool:
    return getattr(args, name) not in (None, False)


@contextmanager
def _ground(args: argparse.Namespace, setup: Setup) -> Generator[Ground]:
    """Lend what the site says: by its book where there is one, else by its file alone."""
    now_ms, folder = SystemClock().now(), data_folder(setup)

    def weather(hours: tuple[Ms, Ms]) -> Weather:
        if args.weather is not None:
            return of_file(Path(args.weather), setup.site, hours, now_ms)
        return of_site(setup, hours, now_ms)

    if not has_book(setup, folder):
        yield Ground(setup, _no_edits, weather, lambda: NOTHING_KNOWN, now_ms, args.members)
        return
    with read_board(setup, folder) as book:
        yield ground_of(book, setup.site, setup.calibrations, weather, now_ms, args.members)


def _no_edits(_: BayId) -> tuple[()]:
    return ()


def _told(what: Tried | Found | Chain, request: Request, zone: str) -> tuple[list[str], dict[str, Any]]:
    """Return an answer in words and as JSON."""
    if isinstance(what, Chain):
        return chain_lines(what, zone, request.chance), chain_json(what)
    if isinstance(what, Found):
        said = "the least protection" if request.least is not None else "the best start"
        return search_lines(what, zone, said), search_json(what)
    return case_lines(what, zone), case_json(what)


def _written(found: Planned, setup: Setup, out: Path) -> list[str]:
    """Write the chart of an answer, and its table where it is more than one case."""
    zone, what = setup.site.site.zone, found.what
    drawn: Chart
    if isinstance(what, Chain):
        drawn, table = chain_chart(what, zone), chain_table(what)
    elif isinstance(what, Found):
        drawn, table = plan_chart(what.nearest, found.rule, zone, first=setup.site.site.units), search_table(what)
    else:
        drawn, table = plan_chart(what, found.rule, zone, first=setup.site.site.units), []
    out.write_text(alone(svgchart(drawn)), encoding="utf-8")
    if not table:
        return [f"written: {out}"]
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(table)
    beside = out.with_suffix(".csv")
    beside.write_text(text.getvalue(), encoding="utf-8")
    return [f"written: {out}", f"written: {beside}"]


def plan(args: argparse.Namespace) -> int:
    """Before the pour: its expected hours, the least protection, the best start, form sets over a sequence of bays."""
    setup = setup_of(args)
    if not 2 <= args.members <= 1000:
        raise PlanError("--members: a number from 2 to 1000")
    request = _request(args)
    if args.out is not None and not args.out.endswith(".svg"):
        raise PlanError("--out: a file whose name ends with .svg")
    with _ground(args, setup) as ground:
        found = answer(request, ground, _spell)
    written = [] if args.out is None else _written(found, setup, Path(args.out))
    lines, told = _told(found.what, request, setup.site.site.zone)
    source = found.weather.source
    if args.json:
        all_of_it = {"plan": told, "notes": list(found.notes), "weather": source, "caution": CAUTION_LINE}
        say(json.dumps(all_of_it, allow_nan=False))
        return DONE
    notes = [f"note: {note}" for note in found.notes]
    say("\n".join([*lines, *notes, f"weather: {source}", *written, "", CAUTION]))
    return DONE
