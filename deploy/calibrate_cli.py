"""The arguments of `slabhour calibrate`."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

from cure.programme_limits import MOST_THRESHOLDS, RANGES, THRESHOLD_MPA
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


def thresholds_of(said: Sequence[float], place: str, before: str = "") -> tuple[float, ...]:
    """Return the strengths that requirements ask for, of a command or of a form; none: the usual ones hold.

    Args:
        said: they. [MPa]
        place: where they were said, for a fault.
        before: what stands before their name there.

    Raises:
        SetupError: one that no requirement has, or too many.
    """
    low, high = THRESHOLD_MPA
    if len(said) > MOST_THRESHOLDS:
        allowed = f"{MOST_THRESHOLDS} of them at most"
        raise SetupError([Fault(place, None, f"{before}threshold-mpa", f"{len(said)} of them", allowed)])
    for value in said:
        # Written so that what is no number is refused.
        if not low <= value <= high:
            raise SetupError([Fault(place, None, f"{before}threshold-mpa", f"{value:g}", f"{low:g} to {high:g}")])
    return tuple(said)


def batch_rules(args: argparse.Namespace) -> tuple[OwnCylinders | None, float | None]:
    """Return how a pour's own cylinders count, and the spread of a batch.

    Raises:
        SetupError: a value outside its range, or one that needs another.
    """
    return rules_of(vars(args), "command line", "--")


def rules_of(said: Mapping[str, Any], place: str, before: str = "") -> tuple[OwnCylinders | None, float | None]:
    """Return how a pour's own cylinders count, and the spread of a batch, of a command or of a form.

    Args:
        said: own_cylinders, narrow_to_percent, narrow_from and batch_sd_percent.
        place: where they were said, for a fault.
        before: what stands before their names there.

    Raises:
        SetupError: a value outside its range, or one that needs another.
    """
    narrow_to, least = said["narrow_to_percent"], said["narrow_from"]
    if least is not None and narrow_to is None:
        name, wanted = f"{before}narrow-from", f"{before}narrow-to-percent too"
        raise SetupError([Fault(place, None, name, f"{least:g}", wanted)])
    for name, (low, high) in RANGES.items():
        value = said[name]
        # Written so that what is no number, or no whole one, is refused.
        if value is not None and not (low <= value <= high and (name != "narrow_from" or value == int(value))):
            spelt = f"{before}{name.replace('_', '-')}"
            raise SetupError([Fault(place, None, spelt, f"{value:g}", f"{low} to {high}")])
    if not said["own_cylinders"] and narrow_to is None:
        return None, said["batch_sd_percent"]
    from_n = {} if least is None else {"narrow_from": int(least)}
    return OwnCylinders(narrow_to_percent=narrow_to, **from_n), said["batch_sd_percent"]
