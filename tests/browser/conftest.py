from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser_support import CHROMIUM, chromium
from playwright.sync_api import Browser


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("Debian's chromium is not installed: apt-get install chromium")
    with chromium() as opened:
        yield opened
