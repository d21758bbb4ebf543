from __future__ import annotations

import pytest
from interleavings import Model, Weak, broken_promises, walk


@pytest.mark.row("A4", "A6", "A8", "A14")
def test_no_interleaving_breaks_a_promise_and_every_one_comes_to_rest() -> None:
    edges = walk(Model())
    assert broken_promises(edges) == {}
    assert len(edges) > 5_000, "the model has grown too small to say anything"
