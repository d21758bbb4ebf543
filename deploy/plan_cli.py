"""`slabhour plan`: before the pour. Its expected hours, what protects it, when to begin, which form set is short."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any, Final

from cure.dashboard.svgchart import alone, svgchart
from cure.forecast import HORIZON_H, Weather
from cure.plan_case import Heat, Needs, Told, bay_of, judged_by, rule_of, work_of
from cure.plan_chart import plan_chart
from cure.plan_report import case_json, case_lines, chain_json, chain_lines, search_json, search_lines
from cure.plan_weather import days_alike
from cure.planned import MEMBERS, Judged, foreseen
from cure.planner import Foresee, Offer, Protection, Question, Tried, best_start, least_protection, protected, tried
from cure.turnaround import Next, Site, chain
from deploy.cli_site import DONE, REFUSED, add_site, aware, complain, say, setup_of
from deploy.folders import data_folder
from deploy.plan_weather import of_file, of_site
from deploy.status import CAUTION, CAUTION_LINE
from shared.clock import SystemClock
from shared.errors import PlanError
from shared.models.base import HOUR_MS, STRIP, BayId, Ms, Operation
from shared.models.setup import Setup
from shared.shifts import running_or_next
from shared.store import has_book, read_board

MOST_STARTS: Final = 200


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


def _then(text: str) -> tuple[BayId, Ms]:
    bay, at, hour = text.partition("@")
    if not at:
        raise argparse.ArgumentTypeError(f"{text!r} is not a bay and an hour like 2-b2@2026-11-24T08:40:00-04:00")
    return BayId(bay), _ms(aware(hour))


def _ms(at: datetime) -> Ms:
    return round(at.timestamp() * 1000)


def add_plan(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    asked = (
        ("--bay", {"required": True, "help": "which is poured"}),
        ("--start", {"required": True, "type": aware, "metavar": "TIME", "help": "first concrete"}),
        ("--pour-h", {"type": float, "default": 2.0, "metavar": "H", "help": "hours that the pour takes (default: 2)"}),
        ("--placing-c", {"type": float, "default": 18.0, "metavar": "DEGC", "help": "as placed (default: 18)"}),
        ("--thickness-mm", {"type": float, "metavar": "MM", "help": "another than the bay's"}),
        ("--mix", {"help": "another than the bay's"}),
        ("--cement", {"metavar": "TYPE", "help": "of the mix: I, II, III, V, for its heat"}),
        ("--binder-kg", {"type": float, "metavar": "KG", "help": "cement and what replaces it, in a cubic metre"}),
        ("--water-binder", {"type": float, "metavar": "RATIO", "help": "water by binder, by mass"}),
        ("--fly-ash", {"type": float, "default": 0.0, "metavar": "SHARE", "help": "of the binder (default: 0)"}),
        ("--slag", {"type": float, "default": 0.0, "metavar": "SHARE", "help": "of the binder (default: 0)"}),
        ("--weather", {"metavar": "FILE", "help": "CSV or JSON, as [weather] reads it"}),
        ("--air", {"type": _low_high, "metavar": "LOW,HIGH", "help": "days that are all alike, degC, in its place"}),
        ("--wind-m-s", {"type": float, "default": 3.0, "metavar": "M/S", "help": "with --air (default: 3)"}),
        ("--cover", {"type": float, "default": 0.0, "metavar": "R", "help": "of a cover, m2K/W (default: none)"}),
        ("--cover-on-h", {"type": float, "default": 2.0, "metavar": "H", "help": "laid so long after the end"}),
        ("--cover-for-h", {"type": float, "metavar": "H", "help": "taken off after (default: it stays)"}),
        ("--below-c", {"type": float, "metavar": "DEGC", "help": "the space below is heated to"}),
        ("--below-for-h", {"type": float, "metavar": "H", "help": "heated for (default: on and on)"}),
        ("--operation", {"default": STRIP, "help": "of which it is asked (default: strip)"}),
        ("--needs-h", {"type": float, "metavar": "H", "help": "in place of its requirement: counted hours"}),
        ("--needs-c", {"type": float, "metavar": "DEGC", "help": "at or above which they count"}),
        ("--needs-mpa", {"type": float, "metavar": "MPA", "help": "lower bound of strength"}),
        ("--wanted", {"type": aware, "metavar": "TIME", "help": "by when it is wanted"}),
        ("--chance", {"type": float, "default": 0.8, "help": "with which (default: 0.8)"}),
        ("--covers", {"type": _numbers, "metavar": "R,R", "help": "with --least: what covers there are"}),
        ("--heatings", {"type": _numbers, "metavar": "C,C", "help": "with --least: to what the space can be heated"}),
        ("--every-h", {"type": float, "default": 1.0, "metavar": "H", "help": "with --until (default: 1)"}),
        ("--set", {"action": "append", "metavar": "NAME", "help": "with --then: a form set; one for each"}),
        ("--turnaround-h", {"type": float, "default": 6.0, "metavar": "H", "help": "working hours to move a set"}),
        ("--members", {"type": int, "default": MEMBERS, "help": f"of the ensemble (default: {MEMBERS})"}),
        ("--out", {"metavar": "FILE.svg", "help": "write the chart of the answer"}),
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


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the arguments come to."""

    args: argparse.Namespace
    setup: Setup
    weather: Weather
    by: Protection

    @property
    def zone(self) -> str:
        return self.setup.site.site.zone

    @property
    def foresee(self) -> Foresee:
        return partial(foreseen, members=self.args.members)

    def judged(self, told: Told) -> Judged:
        """By the requirements in force, with what the engineer wrote on the site book where there is one."""
        folder = data_folder(self.setup)
        if not has_book(self.setup, folder):
            return judged_by(self.setup, told)
        with read_board(self.setup, folder) as book:
            return judged_by(self.setup, told, book.edits(told.bay))

    def told(self, bay: BayId, start_ms: Ms) -> Told:
        args = self.args
        return Told(bay, start_ms, args.pour_h, args.placing_c, args.thickness_mm, args.mix, _heat(args), _needs(args))


def _heat(args: argparse.Namespace) -> Heat | None:
    given = (args.cement, args.binder_kg, args.water_binder)
    if all(value is None for value in given):
        return None
    if any(value is None for value in given):
        raise PlanError("--cement, --binder-kg and --water-binder go together")
    return Heat(*given, args.fly_ash, args.slag)


def _needs(args: argparse.Namespace) -> Needs | None:
    given = (args.needs_h, args.needs_c, args.needs_mpa)
    if all(value is None for value in given):
        return None
    if any(value is None for value in given):
        raise PlanError("--needs-h, --needs-c and --needs-mpa go together")
    return Needs(Operation(args.operation), *given)


def _weather(args: argparse.Namespace, setup: Setup, hours: tuple[Ms, Ms]) -> Weather:
    now_ms = SystemClock().now()
    if args.weather is not None and args.air is not None:
        raise PlanError("--weather and --air are two answers to one question: give one")
    if args.weather is None and args.air is None:
        return of_site(setup, hours, now_ms)
    if args.weather is not None:
        return of_file(Path(args.weather), setup.site, hours, now_ms)
    low_c, high_c = args.air
    return days_alike(low_c, high_c, args.wind_m_s, setup.site.site.zone, hours, min(now_ms, hours[0]))


def _starts(asked: _Asked) -> list[Ms]:
    """Return the hours of the window in which somebody is at work."""
    first, last = _ms(asked.args.start), _ms(asked.args.until)
    every_ms = round(asked.args.every_h * HOUR_MS)
    if not (every_ms >= HOUR_MS // 4 and 0 <= (last - first) // every_ms < MOST_STARTS):
        raise PlanError(
            f"a window ends after it begins, and has at most {MOST_STARTS} starts a quarter of an hour apart"
        )
    shift = asked.setup.site.site.shift
    return [t for t in range(first, last + 1, every_ms) if running_or_next(t, shift, asked.zone).begins_ms <= t]


def _asked(args: argparse.Namespace) -> _Asked:
    setup = setup_of(args)
    bay_of(setup, BayId(args.bay))
    first = last = _ms(args.start)
    last = max([last, *(at for _, at in args.then or ()), *([] if args.until is None else [_ms(args.until)])])
    if not (2 <= args.members <= 1000 and 0.0 < args.chance < 1.0):
        raise PlanError("2 to 1000 members, a chance between 0 and 1")
    try:
        by = Protection(args.cover, args.cover_on_h, args.cover_for_h, args.below_c, args.below_for_h)
    except ValueError as error:
        raise PlanError(str(error)) from error
    # A chain that the cold breaks goes on for days.
    later_h = HORIZON_H * (2 if args.then else 1) + 24
    return _Asked(args, setup, _weather(args, setup, (first, last + later_h * HOUR_MS)), by)


def _chained(asked: _Asked) -> tuple[list[str], Any, None]:
    args, site = asked.args, asked.setup.site.site
    pours: Sequence[tuple[BayId, Ms]] = [(BayId(args.bay), _ms(args.start)), *args.then]
    yard = Site(tuple(args.set or ("A",)), args.turnaround_h, site.shift, site.zone, args.chance)
    links = []
    for bay, start_ms in pours:
        told = asked.told(bay, start_ms)
        work, judged = protected(work_of(asked.setup, told, asked.weather), asked.by), asked.judged(told)
        rule_of(judged, Operation(args.operation))
        links.append(Next(bay, work, judged, Operation(args.operation)))
    found = chain(links, yard, foresee=asked.foresee)
    return chain_lines(found, asked.zone, args.chance), chain_json(found), None


def _one(asked: _Asked) -> tuple[list[str], Any, Tried]:
    args = asked.args
    told = asked.told(BayId(args.bay), _ms(args.start))
    work, judged = work_of(asked.setup, told, asked.weather), asked.judged(told)
    operation = Operation(args.operation)
    rule_of(judged, operation)
    question = Question(judged, operation, None if args.wanted is None else _ms(args.wanted), args.chance)
    if args.least:
        offer = Offer(cover_on_h=args.cover_on_h)
        offer = offer if args.covers is None else replace(offer, covers_m2_k_per_w=args.covers)
        offer = offer if args.heatings is None else replace(offer, below_c=args.heatings)
        found = least_protection(work, question, offer, asked.foresee)
        return search_lines(found, asked.zone, "the least protection"), search_json(found), found.nearest
    if args.until is not None:
        starts = _starts(asked)
        if not starts:
            raise PlanError("nobody is at work in this window: the shift stands in the site file")
        found = best_start(work, asked.by, question, starts, asked.foresee)
        return search_lines(found, asked.zone, "the best start"), search_json(found), found.nearest
    one = tried([(work, asked.by)], question, asked.foresee)[0]
    return case_lines(one, asked.zone), case_json(one), one


def plan(args: argparse.Namespace) -> int:
    """Before the pour: its expected hours, the least protection, the best start, form sets over a sequence of bays."""
    asked = _asked(args)
    try:
        lines, answer, shown = _chained(asked) if args.then else _one(asked)
    except ValueError as error:
        # What no argument can be: its sentence says what it may be.
        complain(str(error))
        return REFUSED
    if args.out is not None and shown is not None:
        judged = asked.judged(asked.told(BayId(args.bay), _ms(args.start)))
        drawn = plan_chart(shown, rule_of(judged, shown.operation), asked.zone, first=asked.setup.site.site.units)
        Path(args.out).write_text(alone(svgchart(drawn)), encoding="utf-8")
    if args.json:
        say(json.dumps({"plan": answer, "weather": asked.weather.source, "caution": CAUTION_LINE}, allow_nan=False))
        return DONE
    written = [] if args.out is None or shown is None else [f"written: {args.out}"]
    say("\n".join([*lines, f"weather: {asked.weather.source}", *written, "", CAUTION]))
    return DONE
