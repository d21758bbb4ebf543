"""`slabhour forecast`: what is foreseen, and `slabhour forecast score`: how good forecasts were."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from cure import forecast_lines
from cure.dashboard.svgchart import alone, svgchart
from cure.forecast_chart import chart, english
from cure.forecast_scores import scores
from deploy.cli_site import DONE, add_site, say, setup_of
from deploy.folders import data_folder
from shared.store import read_board, read_forecasts


def add_forecast(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    below = parser.add_subparsers(required=True, metavar="WHAT")
    for name, run in (("list", listed), ("score", score)):
        added = below.add_parser(name, help=run.__doc__, description=run.__doc__)
        added.set_defaults(run=run)
        add_site(added)
        if name == "score":
            added.add_argument("--out", metavar="FILE.svg", help="write a plot, pour by pour; never over another file")


def listed(args: argparse.Namespace) -> int:
    """Show the newest forecast of each operation of each open pour. Expected, not released."""
    setup = setup_of(args)
    folder = data_folder(setup)
    with read_forecasts(setup, folder) as book, read_board(setup, folder) as board:
        newest, told = book.newest(), forecast_lines.told_of(board.board())
    if args.json:
        say(json.dumps(forecast_lines.newest_json(newest, told)))
        return DONE
    said = forecast_lines.newest_lines(newest, told, setup.site.site.zone) or ["nothing is foreseen"]
    say("\n".join([*said, forecast_lines.CAUTION]))
    return DONE


def score(args: argparse.Namespace) -> int:
    """Show how good forecasts were: share inside the 80 % interval, score, error and bias, by lead, mix, operation."""
    setup = setup_of(args)
    with read_forecasts(setup, data_folder(setup)) as book:
        found = book.scored()
    report = scores(found)
    if args.out is not None:
        with Path(args.out).open("x", encoding="utf-8") as file:
            file.write(alone(svgchart(chart(english(setup.site.site.name), found))))
    if args.json:
        say(json.dumps({**forecast_lines.to_json(report), "file": args.out}))
        return DONE
    written = [] if args.out is None else [f"written: {args.out}"]
    say("\n".join([*forecast_lines.lines(report), forecast_lines.CAUTION, *written]))
    return DONE
