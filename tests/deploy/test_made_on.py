"""A day on which cylinders were made has been."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from deploy.made_on import not_ahead
from shared.errors import SetupError

NOW = round(datetime(2026, 11, 24, 12, tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize("made_on", ["2026-11-25", "2026-11-24", "1999-01-01", "invented"])
def test_a_day_that_has_been_somewhere_and_words_that_are_no_day_are_taken(made_on: str) -> None:
    not_ahead(made_on, NOW, "form", "made on")


def test_a_day_that_has_been_nowhere_is_refused() -> None:
    with pytest.raises(SetupError, match="form: made on: found 2026-11-26; allowed: the day on which the cylinders"):
        not_ahead("2026-11-26", NOW, "form", "made on")
