from __future__ import annotations

import pytest
from interleaving_promises import F1, K1, R1, R2, R3, R4, R5, R7, broken_promises, walk
from interleavings import Budget, Policy, Weak
from interleavings_model import Model

from shared.models.base import STRIP, WALK

BOTH = (STRIP, WALK)


def found(model: Model, least: int = 0) -> dict[str, int]:
    """Return the promises that a walk of every interleaving finds broken."""
    edges = walk(model)
    assert len(edges) >= least, "too small to say anything"
    return broken_promises(model, edges)


@pytest.mark.parametrize(
    "budget",
    [
        pytest.param(
            Budget(flips=4, hours=0), marks=pytest.mark.row("A4", "A6", "A8", "A13", "A14"), id="two releases"
        ),
        pytest.param(Budget(crashes=2, losses=2), id="one release, validity ends"),
        pytest.param(Budget(hours=0, fades=1, doubts=1), id="a silent sensor, a doubt of the service"),
        pytest.param(Budget(flips=1, hours=0, doubts=1, stops=1), id="STOP"),
    ],
)
def test_no_interleaving_breaks_a_promise_and_every_one_comes_to_rest(budget: Budget) -> None:
    assert found(Model(budget=budget), 5_000) == {}


TWO = [
    pytest.param(Budget(crashes=0, losses=0, hours=0, repeats=False), Policy.TWO_SIGN, id="evidence turns"),
    pytest.param(Budget(flips=1, hours=0, repeats=False), Policy.TWO_SIGN, id="a crash and a loss"),
    pytest.param(Budget(losses=0, hours=0, repeats=False), Policy.ONE_SIGNS, id="evidence turns, a crash"),
]


@pytest.mark.parametrize(("budget", "policy"), TWO)
def test_no_interleaving_of_strip_and_walk_breaks_a_promise(budget: Budget, policy: Policy) -> None:
    assert found(Model(budget=budget, policy=policy, operations=BOTH, counts=False), 5_000) == {}


@pytest.mark.parametrize(
    ("weak", "policy"),
    [
        pytest.param(Weak(parallel=True), Policy.TWO_SIGN, id="in parallel, sent again"),
        pytest.param(Weak(), Policy.AUTOMATIC, id="released without a signature, latched"),
    ],
)
def test_the_promises_do_not_hang_on_sending_one_by_one_or_on_signatures(weak: Weak, policy: Policy) -> None:
    assert found(Model(weak, Budget(hours=0), policy=policy), 1_000) == {}


@pytest.mark.parametrize(
    ("weak", "promises"),
    [
        pytest.param(Weak(parallel=True, repeats=False), {R3}, id="in parallel, not sent again"),
        pytest.param(Weak(parallel=True, marks=False), {R3}, id="in parallel, one being sent is not marked"),
        pytest.param(Weak(kills=False), {R3}, id="a given-up attempt lives on"),
        pytest.param(Weak(rechecks=False), {R1}, id="evidence not looked at again when signing"),
        pytest.param(Weak(atomic=False), {R4, R5}, id="message after the state"),
        pytest.param(Weak(commits_calling=False), {R7}, id="calling not kept"),
        pytest.param(Weak(fences=False), {R2}, id="no fence"),
    ],
)
def test_the_model_sees_what_a_weaker_design_would_do(weak: Weak, promises: set[str]) -> None:
    assert promises <= set(found(Model(weak)))


def test_a_permit_to_walk_that_does_not_wait_goes_out_behind_the_keep_off_of_the_strip() -> None:
    budget = Budget(flips=1, crashes=0, losses=0, hours=0, repeats=False)
    assert set(found(Model(Weak(keeps_off=False), budget, operations=BOTH, counts=False))) == {K1}


@pytest.mark.parametrize(
    ("weak", "policy"),
    [
        pytest.param(Weak(latched=False), Policy.AUTOMATIC, id="released without a signature, not latched"),
        pytest.param(Weak(), Policy.NOBODY_SIGNS, id="requirement met, not signed"),
    ],
)
def test_what_no_person_decides_and_nothing_latches_goes_to_and_fro(weak: Weak, policy: Policy) -> None:
    budget = Budget(flips=4, crashes=0, losses=0, hours=0)
    assert set(found(Model(weak, budget, policy=policy))) == {F1}
