from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from pages_support import OTHER, Bench, bench_of, row
from store_support import BAY, opened_book

from shared.models.base import STRIP, WALK
from shared.models.decisions import GateState


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with opened_book(tmp_path) as book:
        rows = (row(BAY, {STRIP: GateState.RELEASED, WALK: GateState.MET}), row(OTHER))
        yield bench_of(book, *rows)
