"""The pages over a mix that is calibrated, two of whose pours are unfinished, and later cylinders."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pages_support import NOW, OTHER, SITE, Bench, bench_of, replace, row
from store_support import make_calibration

from deploy.demo.scenario import SITE_FILE
from shared.models.base import HOUR_MS
from shared.models.decisions import MixTest
from shared.ports import MixPour, MixRow
from shared.store.book import SiteBook

BREAKS = Path(SITE_FILE).with_name("breaks.csv").read_text(encoding="utf-8")
TYPED: dict[str, Any] = {
    "breaks": BREAKS,
    "temperatures": "",
    "lab_c": "",
    "dose_class": "none",
    "supplier": "plant",
    "laboratory": "lab",
    "made_on": "2026-10-19",
    "valid_until": "",
}


def mix_bench(book: SiteBook, **options: Any) -> Bench:
    """Return it: the pour of the first bay has no version yet, that of the second keeps version 1."""
    first, other = row(), row(OTHER)
    other = replace(other, pour=replace(other.pour, calibration_version=1))
    bench = bench_of(book, first, other, **options)
    tests = tuple(MixTest(other.pour.id, NOW - 9 * HOUR_MS + n, 30.0, mpa) for n, mpa in enumerate((13.4, 13.6, 13.5)))
    pours = (MixPour(first.pour, {}), MixPour(other.pour, {}))
    bench.board.known_mixes = (MixRow(SITE.mix[0], make_calibration(), True, pours, tests),)
    return bench
