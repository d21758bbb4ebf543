"""A site book with one pour in each of two bays; stores of readings of every kind."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from readings_support import Stores
from store_support import opened_book

from shared.store.book import SiteBook


@pytest.fixture(scope="session")
def book_as_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("book")
    with opened_book(folder, pours=2):
        pass
    return folder / "site.db"


@pytest.fixture
def book(book_as_made: Path, tmp_path: Path) -> Iterator[SiteBook]:
    # Copied, not made: making the tables takes longer than most tests.
    shutil.copy(book_as_made, tmp_path)
    with opened_book(tmp_path) as opened:
        yield opened


@pytest.fixture(scope="session")
def stores(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stores]:
    with ExitStack() as ending:
        yield Stores(tmp_path_factory.mktemp("influxdb"), ending)
