"""The arguments of `slabhour calibrate`."""

from __future__ import annotations

import argparse
from datetime import date
from typing import Final

_OF: Final = {
    "mix": "its name in the site file",
    "dose-class": "of its admixtures",
    "supplier": "who delivers it",
    "lab": "who made and broke the cylinders",
}


def add_calibrate(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("breaks", metavar="BREAKS.csv", help="specimen; age_h, age_d or equivalent_age_h; strength_*")
    for name, says in _OF.items():
        parser.add_argument(f"--{name}", required=True, help=says)
    hours = parser.add_mutually_exclusive_group()
    hours.add_argument(
        "--temperatures", metavar="T.csv", help="time_h, a column in _c or _f for each cylinder's record"
    )
    hours.add_argument("--lab-c", type=float, help="temperature of a laboratory without such a record [degC]")
    parser.add_argument(
        "--cubes", metavar="CUBES.csv", help="mortar cubes cured at three temperatures: the mix's activation energy"
    )
    parser.add_argument("--threshold-mpa", type=float, action="append", help="strength asked for (default: 3.5 and 7)")
    parser.add_argument(
        "--made-on", type=date.fromisoformat, required=True, metavar="DATE", help="when the cylinders were made"
    )
    parser.add_argument(
        "--valid-until",
        type=date.fromisoformat,
        metavar="DATE",
        help="last day on which a pour may begin that is judged by it (default: 6 months after --made-on)",
    )
    parser.add_argument("--out", default=".", metavar="FOLDER", help="where to write (default: here)")
    parser.add_argument("--json", action="store_true", help="for programs")
