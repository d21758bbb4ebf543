from __future__ import annotations

from pathlib import Path

import pytest
from interleavings_traces import played

from cure import assess
from shared.models.messages import MessageKind

SEEDS = range(2, 13)


def steps_of(folder: Path, seed: int) -> set[str]:
    """Play one trace in a folder of its own; return the steps of it."""
    mine = folder / str(seed)
    mine.mkdir()
    return set(played(mine, seed, 70).steps)


def test_the_real_code_goes_only_where_the_model_goes(tmp_path: Path) -> None:
    steps = {step for seed in SEEDS for step in steps_of(tmp_path, seed)}
    assert steps >= {
        "crash",
        "sending",
        "world: evidence flips",
        "world: a sensor fades",
        "person: a signs strip+walk",
        "person: begun strip",
        f"person: confirms {MessageKind.WITHDRAWAL} of strip",
        f"person: confirms {MessageKind.KEEP_OFF} of strip",
        "person: reopened by a person strip",
    }, "too little happened to say anything"


def test_code_that_goes_elsewhere_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(assess, "check_release", lambda *_: None)
    with pytest.raises(AssertionError, match="the model would go on"):
        {step for seed in SEEDS for step in steps_of(tmp_path, seed)}
