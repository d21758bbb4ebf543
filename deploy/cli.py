"""The command `slabhour`. Exit codes: 0 done, 1 refused, 2 wrong usage."""

from __future__ import annotations

import argparse
import logging
import sys
from collections.abc import Sequence
from importlib.metadata import version

from deploy import logs
from deploy.cli_site import REFUSED, complain
from deploy.commands import add_commands
from shared.errors import SlabError


def _parser(wanted: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="slabhour", description="The hour young concrete has earned the next step.")
    parser.add_argument("--version", action="version", version=f"slabhour {version('slabhour')}")
    add_commands(parser, wanted)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; every error of ours is a sentence, not a traceback."""
    logging.basicConfig(level=logging.WARNING, format=logs.TEXT_FORM, stream=sys.stderr)
    given = sys.argv[1:] if arguments is None else arguments
    args = _parser(given[0] if given else "").parse_args(given)
    try:
        return int(args.run(args))
    except SlabError as error:
        complain(str(error))
    except OSError as error:
        complain(f"{error.strerror}: {error.filename}")
    except KeyboardInterrupt:
        complain("stopped")
    return REFUSED


if __name__ == "__main__":
    sys.exit(main())
