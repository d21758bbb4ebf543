from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from deploy.cells import FORMULA, guarded


@pytest.mark.row("M10")
@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\r=1", "\n=1", "\uff1d1", "=cmd|' /C calc'!A0"]
)
def test_what_a_spreadsheet_would_calculate_has_a_mark_before_it(text: str) -> None:
    assert guarded(text) == f"'{text}"


@given(st.text())
def test_no_text_begins_a_formula_and_other_text_is_as_it_was(text: str) -> None:
    found = guarded(text)
    assert not found.startswith(FORMULA)
    assert found in {text, f"'{text}"}
