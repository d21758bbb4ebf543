"""Files with damaged pages, files that were cut off, a book that is an old copy: nothing is released from any of them.

A pour whose strip would be met and signed at once. Each 14th page of the book and every one of the readings;
`FAULT_SCALE=14`: every page, and as many cuts. A release may come only where the files hold all that it stands on.
"""

from __future__ import annotations

import logging
import random
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pytest
from backup_support import HISTORY, SIGNED_MS, little_setup, service_of, strip_of
from deploy_support import POUR, act, poured
from oracle_files import rows, whole
from scale import SCALE

from shared.errors import SlabError
from shared.models.base import MINUTE_MS
from shared.models.decisions import GateState
from shared.models.setup import Setup

PAGE: Final = 4096
EVERY: Final = max(1, round(14 / SCALE))
SEED: Final = random.SystemRandom().randrange(10**9)
OPEN: Final = {GateState.MET, GateState.RELEASED, GateState.UNDER_WAY, GateState.DONE}


@dataclass
class Came:
    """What a service did with the files."""

    state: GateState | None
    """Of the strip; None: it did not start."""
    said: str
    """Why not, or what it is in doubt of."""


class Site:
    """A pour whose readings are in, whose strip nobody has signed yet; its files can be put back as they were."""

    def __init__(self, folder: Path) -> None:
        self.setup: Setup = little_setup(folder)
        self.data = folder / "var"
        with service_of(self.setup, poured()[0].at_ms) as (service, clock):
            for one in poured():
                clock.set(one.at_ms)
                service.apply(one)
            clock.set(HISTORY[-1].received_ms)
            service.intake.take_rows(HISTORY)
            service.rounds.run_due()
        self._whole = folder / "whole"
        shutil.copytree(self.data, self._whole)
        self.readings = readings_of(self._whole)

    def mend(self) -> None:
        shutil.rmtree(self.data)
        shutil.copytree(self._whole, self.data)

    def tried(self) -> Came:
        """Start the service, let it turn for a while, sign; return what came of it."""
        try:
            with service_of(self.setup, SIGNED_MS) as (service, clock):
                for turn in range(5):
                    clock.set(SIGNED_MS + turn * 2 * MINUTE_MS)
                    service.tick()
                try:
                    service.apply(act("sign", clock.now(), pour=POUR, operations=["strip"]))
                    signed = "signed"
                except SlabError as refused:
                    signed = str(refused)
                doubts = "; ".join(f"{d.kind}: {d.reason}" for d in service.book.service.doubts())
                return Came(strip_of(service), doubts or signed)
        except SlabError as refused:
            return Came(None, str(refused))


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    logging.disable(logging.CRITICAL)
    yield Site(tmp_path_factory.mktemp("damage"))
    logging.disable(logging.NOTSET)


def test_with_whole_files_the_strip_is_released(site: Site) -> None:
    site.mend()
    assert site.tried() == Came(GateState.RELEASED, "signed")


@pytest.mark.row("S6")
@pytest.mark.parametrize("name", ["site.db", "readings.db"])
def test_from_a_file_with_a_damaged_page_nothing_is_released_and_it_is_said_how_to_mend_it(
    site: Site, name: str
) -> None:
    print(f"seed {SEED}")
    dice = random.Random(SEED)
    site.mend()
    pages = (site.data / name).stat().st_size // PAGE
    first = dice.randrange(EVERY)
    for page in [0, *range(first, pages, EVERY if name == "site.db" else 1)]:
        site.mend()
        with (site.data / name).open("r+b") as raw:
            raw.seek(page * PAGE)
            raw.write(dice.randbytes(PAGE))
        told_of(site.tried(), f"{name}, page {page + 1} of {pages}", site)


@pytest.mark.row("S6")
@pytest.mark.parametrize("name", ["site.db", "readings.db"])
def test_from_a_file_that_was_cut_off_nothing_is_released(site: Site, name: str) -> None:
    print(f"seed {SEED}")
    dice = random.Random(SEED)
    for _ in range(max(1, round(2 * SCALE))):
        site.mend()
        size = (site.data / name).stat().st_size
        cut = dice.randrange(1, size)
        with (site.data / name).open("r+b") as raw:
            raw.truncate(cut)
        told_of(site.tried(), f"{name} cut to {cut} of {size} bytes", site)


def told_of(came: Came, where: str, site: Site) -> None:
    if came.state in OPEN:
        # The page was in use by nothing: all that a release stands on is there, as it was.
        assert [*whole(site.data)] == [], (where, came)
        assert readings_of(site.data) == site.readings, (where, came)
    else:
        assert "slabhour restore" in came.said or came.said.startswith(("store: ", "log: ")), (where, came)


def readings_of(data: Path) -> list[tuple[object, ...]]:
    return [tuple(row) for row in rows(data / "readings.db", "SELECT * FROM reading ORDER BY sensor, taken_ms")]
