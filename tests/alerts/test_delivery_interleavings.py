from __future__ import annotations

import pytest
from interleaving_promises import broken_promises, walk
from interleavings import Model, Weak

LAST = "R3 shut, but the recipient heard a release last"


@pytest.mark.parametrize(
    ("flips", "crashes", "losses"), [pytest.param(4, 1, 1, id="two releases"), pytest.param(2, 2, 2, id="one release")]
)
@pytest.mark.row("A4", "A6", "A8", "A13", "A14")
def test_no_interleaving_breaks_a_promise_and_every_one_comes_to_rest(flips: int, crashes: int, losses: int) -> None:
    edges = walk(Model(flips=flips, crashes=crashes, losses=losses))
    assert broken_promises(edges) == {}
    assert len(edges) > 5_000, "too small to say anything"


@pytest.mark.row("A4")
def test_a_withdrawal_sent_beside_the_release_still_stands_last_because_it_is_sent_again() -> None:
    assert broken_promises(walk(Model(Weak(parallel=True)))) == {}


@pytest.mark.parametrize(
    ("weak", "promise"),
    [
        pytest.param(Weak(parallel=True, repeats=False), LAST, id="in parallel, not sent again"),
        pytest.param(Weak(kills=False), LAST, id="a given-up attempt lives on"),
        pytest.param(Weak(commits_calling=False), "R7 accepted twice without a record of doubt", id="calling not kept"),
        pytest.param(Weak(atomic=False), "R5 withdrawn without a message", id="message after the state"),
        pytest.param(Weak(fences=False), "R2 a release begun while its gate is not released", id="no fence"),
    ],
)
def test_the_model_sees_what_a_weaker_design_would_do(weak: Weak, promise: str) -> None:
    assert promise in broken_promises(walk(Model(weak)))
