"""`slabhour labels`: a sheet to print."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from deploy.cli_site import DONE, WRONG_USAGE, add_site, complain, say, setup_of
from deploy.folders import data_folder
from deploy.labels import ID_ONLY, PAPERS, Label, labels, page, sheets
from shared.models.decisions import Placement
from shared.models.setup import Setup, WebSettings
from shared.store import has_book, read_board

EVERYWHERE: Final = "0.0.0.0"  # noqa: S104  compared with, never bound
THIS_MACHINE: Final = "127."


def _address(text: str) -> str:
    """Return the address of the pages, without a slash at its end."""
    parts = urlsplit(text)
    if parts.scheme not in {"http", "https"} or not parts.hostname or parts.query or parts.fragment or parts.username:
        raise argparse.ArgumentTypeError(f"{text!r} is no address like http://site.lan:8080")
    return text.rstrip("/")


def add_labels(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("out", metavar="OUT.svg|OUT.html", help="what to write; HTML prints any number of sheets")
    parser.add_argument("--address", type=_address, help="of the pages, http://site.lan:8080 (default: [web])")
    parser.add_argument("--paper", choices=[*PAPERS], default="A4", help="default: A4")
    parser.add_argument("--bay", action="append", metavar="BAY", help="of this bay only; may be repeated")
    add_site(parser)


def _of_web(web: WebSettings) -> str | None:
    """Return where phones on the site reach the pages, if the site file says it; None: it does not."""
    if web.address is not None:
        return web.address
    if web.listen is None or web.listen == EVERYWHERE or web.listen.startswith(THIS_MACHINE) or not web.port:
        return None
    # Whoever listens to others than this machine has a certificate.
    return f"https://{web.listen}:{web.port}"


def run_labels(args: argparse.Namespace) -> int:
    """Write labels for bays and sensors, 24 a sheet, with codes that a phone reads."""
    setup, out = setup_of(args), Path(args.out)
    args.address = _of_web(setup.site.web) if args.address is None else args.address
    wanted = [bay for bay in setup.site.bay if args.bay is None or bay.id in args.bay]
    unknown = sorted(set(args.bay or ()) - {bay.id for bay in wanted})
    if out.suffix not in {".svg", ".html"} or unknown:
        complain(f"there is no bay {unknown[0]}" if unknown else f"{out}: a name that ends in .svg or .html")
        return WRONG_USAGE
    every = labels(wanted, _placements(setup), args.address)
    pictures = sheets(every, args.paper)
    written = _write(out, pictures, args.paper, f"{setup.site.site.name}: labels")
    _tell(args, every, written)
    return DONE


def _placements(setup: Setup) -> Sequence[Placement]:
    """Return where sensors lie; before the first start what the site file says."""
    if not has_book(setup, data_folder(setup)):
        site = setup.site
        return [
            Placement(s.sensor_id, b.bay_id, s.zone, s.depth_mm, s.interval_s or site.site.interval_s, s.required)
            for b in site.bay
            for s in b.sensors
        ]
    with read_board(setup, data_folder(setup)) as book:
        return book.placements()


def _write(out: Path, pictures: Sequence[str], paper: str, title: str) -> list[Path]:
    if out.suffix == ".html":
        out.write_text(page(pictures, paper, title), encoding="utf-8")
        return [out]
    files = [out if n == 1 else out.with_name(f"{out.stem}-{n}.svg") for n in range(1, len(pictures) + 1)]
    for file, picture in zip(files, pictures, strict=True):
        file.write_text(picture, encoding="utf-8")
    return files


def _tell(args: argparse.Namespace, every: Sequence[Label], written: Sequence[Path]) -> None:
    if args.json:
        say(json.dumps({"labels": len(every), "files": [str(path) for path in written], "address": args.address}))
        return
    said = "" if args.address is not None else f"; {ID_ONLY}, say --address http://site.lan:8080"
    say(f"{len(every)} labels, {args.paper}, in {', '.join(map(str, written))}{said}")
    say("print at 100 %, not fitted to the page")
