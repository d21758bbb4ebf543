"""The arguments of `slabhour calibrate`."""

from __future__ import annotations

import argparse
from datetime import date
from typing import Final

from shared.errors import Fault, SetupError
from shared.models.calibration import OwnCylinders

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
    parser.add_argument(
        "--own-cylinders", action="store_true", help="a pour's own early cylinders may lower its curve at once"
    )
    parser.add_argument(
        "--narrow-to-percent",
        type=float,
        metavar="P",
        help="and may narrow the spread of its batch, to P at least (6 to 30; the bound has 10)",
    )
    parser.add_argument(
        "--narrow-from", type=int, metavar="N", help="from N of them on, in two sets or more (default: 4)"
    )
    parser.add_argument(
        "--batch-sd-percent", type=float, metavar="P", help="spread of the mix's batches, where it is wider than 10 %%"
    )
    parser.add_argument("--out", default=".", metavar="FOLDER", help="where to write (default: here)")
    parser.add_argument("--json", action="store_true", help="for programs")


def batch_rules(args: argparse.Namespace) -> tuple[OwnCylinders | None, float | None]:
    """Return how a pour's own cylinders count, and the spread of a batch.

    Raises:
        SetupError: a value outside its range, or one that needs another.
    """
    if args.narrow_from is not None and args.narrow_to_percent is None:
        raise SetupError(
            [Fault("command line", None, "--narrow-from", str(args.narrow_from), "--narrow-to-percent too")]
        )
    ranges = (("narrow-to-percent", 6, 30), ("narrow-from", 4, 100), ("batch-sd-percent", 10, 30))
    for name, low, high in ranges:
        value = getattr(args, name.replace("-", "_"))
        # Written so that what is no number is refused.
        if value is not None and not low <= value <= high:
            raise SetupError([Fault("command line", None, f"--{name}", f"{value:g}", f"{low} to {high}")])
    if not args.own_cylinders and args.narrow_to_percent is None:
        return None, args.batch_sd_percent
    least = {} if args.narrow_from is None else {"narrow_from": args.narrow_from}
    return OwnCylinders(narrow_to_percent=args.narrow_to_percent, **least), args.batch_sd_percent
