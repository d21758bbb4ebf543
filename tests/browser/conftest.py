from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser_support import CHROMIUM, chromium
from playwright.sync_api import Browser


# Not for the whole session: while it is open its event loop counts as running, and nobody else could run one.
@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("Debian's chromium is not installed: apt-get install chromium")
    with chromium() as opened:
        yield opened
