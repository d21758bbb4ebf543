"""Cylinders: `slabhour verification`, what they make of the calibrations; `slabhour break-orders`, which to break."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from cure import break_order_lines
from cure.break_orders import break_orders
from cure.cautions import OF_A_CURVE
from cure.dashboard.svgchart import alone, svgchart
from cure.verification_chart import chart
from cure.verification_report import Verification, lines, page, verifications
from deploy.cli_site import DONE, add_site, say, setup_of
from deploy.folders import data_folder
from shared.clock import SystemClock
from shared.errors import Fault, SetupError
from shared.models.base import Ms
from shared.shifts import file_hour
from shared.store import read_board


def add_verification(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    add_site(parser)
    parser.add_argument("--mix", metavar="MIX", help="one mix (default: every mix that has a calibration)")
    parser.add_argument("--out", metavar="FOLDER", help="write a chart of each mix there, and a page to file")


def _of_mix(found: Sequence[Verification], mix: str | None) -> Sequence[Verification]:
    wanted = [v for v in found if mix is None or v.mix == mix]
    if mix is not None and not wanted:
        known = ", ".join(sorted({v.mix for v in found})) or "none yet"
        raise SetupError([Fault("command line", None, "--mix", repr(mix), f"a mix with a calibration: {known}")])
    return wanted


def _write(found: Sequence[Verification], folder: Path, site: str, zone: str, now_ms: Ms) -> list[str]:
    """Write charts and page; their names carry the hour, so that what was filed is never written over."""
    hour = file_hour(now_ms, zone)
    texts: Mapping[str, str] = {
        **{
            f"{v.mix}-v{v.version}-verification-{hour}.svg": alone(
                svgchart(chart(v.name, [s.ratio for s in v.sets], [s.running_sum for s in v.sets]))
            )
            for v in found
        },
        f"verification-{hour}.html": page(found, site, zone, now_ms),
    }
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        with (folder / name).open("x", encoding="utf-8") as file:
            file.write(text)
    return [str(folder / name) for name in texts]


def verification(args: argparse.Namespace) -> int:
    """Show how each mix's calibration stands by later cylinders, with the running sum that tells of a drift."""
    now_ms, setup = SystemClock().now(), setup_of(args)
    with read_board(setup, data_folder(setup)) as book:
        site, found = book.site().site, _of_mix(verifications(book, now_ms), args.mix)
    files = [] if args.out is None else _write(found, Path(args.out), site.name, site.zone, now_ms)
    if args.json:
        say(json.dumps({"mixes": [v.to_json() for v in found], "files": files, "caution": OF_A_CURVE}))
        return DONE
    said = lines(found, site.zone) if found else ["no mix has a calibration yet"]
    say("\n".join([*said, OF_A_CURVE, *(f"written: {name}" for name in files)]))
    return DONE


def orders(args: argparse.Namespace) -> int:
    """Show which cylinders of open pours the laboratory is to break next, at which maturity, and when."""
    now_ms, setup = SystemClock().now(), setup_of(args)
    # From the file as it is now: when a laboratory opens judges nothing.
    laboratory = setup.site.laboratory
    with read_board(setup, data_folder(setup)) as book:
        site, found = book.site().site, break_orders(book, laboratory, now_ms)
    if args.json:
        say(json.dumps(break_order_lines.to_json(found, laboratory, now_ms)))
    else:
        say("\n".join(break_order_lines.lines(found, laboratory, site.zone, site.units, now_ms)))
    return DONE
