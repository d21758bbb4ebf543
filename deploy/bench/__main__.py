"""All benchmarks and one table: `python -m deploy.bench [NAME ...] [--short] [--json]`.

Each in a process of its own, so that one that fails costs no other its figures; its rows are told as soon as it is
done. A figure without a limit is only told. In full it takes half an hour of a quiet machine, `--short` a few minutes;
short figures say whether all of it runs, not how fast.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import redirect_stdout
from dataclasses import asdict
from typing import Final

from deploy.bench.rows import BENCHMARKS, Row
from deploy.cli_site import say

LONGEST_S: Final = 3600.0


def measured(name: str, *, short: bool) -> list[Row]:
    """Return a benchmark's rows, measured in a process of its own.

    Raises:
        RuntimeError: it failed, or took longer than an hour; what it said is on standard error.
    """
    command = [sys.executable, "-m", "deploy.bench", "--one", name, *(["--short"] if short else [])]
    try:
        done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False, timeout=LONGEST_S)  # noqa: S603
    except subprocess.TimeoutExpired as error:
        raise RuntimeError(f"it took longer than {LONGEST_S:g} s") from error
    if done.returncode:
        raise RuntimeError("it ended with an error; what it said stands above")
    return [Row(**row) for row in json.loads(done.stdout)]


def line(row: Row) -> str:
    """Return a row of the table as text."""
    limit = "" if row.limit is None else f"{'>=' if row.at_least else '<='} {row.limit:g}"
    said = "" if row.limit is None else "met" if row.met else "NOT MET"
    return f"{row.what:<64} {row.found:>12.4g} {row.unit:<15} {limit:>10} {said}".rstrip()


def _one(name: str, *, short: bool) -> int:
    with redirect_stdout(sys.stderr):
        rows = BENCHMARKS[name](short)
    say(json.dumps([asdict(row) for row in rows]))
    return 0


def main(arguments: Sequence[str], measure: Callable[..., list[Row]] = measured) -> int:
    """Print a table; 1 when a limit is broken or a benchmark failed. `measure` as `measured`."""
    parser = argparse.ArgumentParser(prog="python -m deploy.bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(BENCHMARKS)}; none: all of them")
    parser.add_argument("--short", action="store_true", help="a few minutes: whether it runs, not how fast")
    parser.add_argument("--json", action="store_true", help="one object at the end")
    parser.add_argument("--one", choices=BENCHMARKS, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.one is not None:
        return _one(options.one, short=options.short)
    if strange := set(options.names) - BENCHMARKS.keys():
        parser.error(f"no benchmark is called {', '.join(sorted(strange))}; there are {', '.join(BENCHMARKS)}")
    found, failed = dict[str, list[Row]](), dict[str, str]()
    for name in options.names or BENCHMARKS:
        try:
            found[name] = measure(name, short=options.short)
        except RuntimeError as error:
            failed[name] = str(error)
        if not options.json:
            say("\n".join(map(line, found.get(name, []))) or f"{name} FAILED: {failed[name]}")
            sys.stdout.flush()
    if options.json:
        said = {name: [asdict(row) | {"met": row.met} for row in rows] for name, rows in found.items()}
        say(json.dumps({"short": options.short, "found": said, "failed": failed}, indent=1))
    return 0 if not failed and all(row.met for rows in found.values() for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
