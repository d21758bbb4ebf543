"""Fits for the pages, each in a process of its own that is ended when it takes too long."""

from __future__ import annotations

import json
import subprocess
import sys
from threading import BoundedSemaphore
from typing import Final

from cure.dashboard.beside import Judgement, Programme
from shared.errors import Fault, SetupError, StoreError

PATIENCE_S: Final = 60.0
_AT_ONCE: Final = BoundedSemaphore(1)
"""A fit takes a core for some seconds: a second one waits, and the rounds keep theirs."""


def fitted(programme: Programme) -> Judgement:
    """Fit and judge a programme.

    Raises:
        SetupError: what cannot be read, and why.
        StoreError: the process failed, or took too long.
    """
    command = [sys.executable, "-m", "deploy.fit_worker"]
    asked = json.dumps(programme.to_json())
    try:
        with _AT_ONCE:
            ran = subprocess.run(command, input=asked, capture_output=True, text=True, timeout=PATIENCE_S, check=False)  # noqa: S603 - ours
    except (OSError, subprocess.TimeoutExpired) as error:
        raise StoreError(f"the curve could not be fitted: {error}") from error
    if ran.returncode != 0:
        last = (ran.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise StoreError(f"the curve could not be fitted: {last}")
    said = json.loads(ran.stdout)
    if "faults" in said:
        raise SetupError([Fault(**fault) for fault in said["faults"]])
    return Judgement.from_json(said)
