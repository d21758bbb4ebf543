"""The child that makes one attempt: `python -m alerts.sender`, one job in JSON on stdin, one answer in JSON out.

Standard library only. Secrets are read here, from files, and appear neither in a command line nor in an answer.
"""

from __future__ import annotations

import ctypes
import importlib
import json
import os
import signal
import sys
from collections.abc import Callable
from typing import Final, cast

from alerts.channels import BEGUN, CHANNELS, Answer, Job, never, not_now, unsure

_SET_PARENT_DEATH_SIGNAL: Final = 1
"""prctl(2), PR_SET_PDEATHSIG."""


def attempt(job: Job) -> Answer:
    """Return the answer of the job's channel; never raises."""
    name = CHANNELS.get(job["to"]["kind"])
    if name is None:
        return never("no such channel")
    module, _, function = name.partition(":")
    send = cast("Callable[[Job], Answer]", getattr(importlib.import_module(module), function))
    try:
        return send(job)
    except Exception as error:  # noqa: BLE001 - whatever broke may have broken after the message had left
        # The type only: an exception's text may quote an address or a secret.
        return unsure(f"the channel broke: {type(error).__name__}")


def _end_with(parent: int, deadline_s: float) -> bool:
    """Make this process end with its parent, and at its deadline; return whether the parent still lives.

    A sender that outlives a killed service would deliver a release after the withdrawal that the next start sends.
    """
    signal.setitimer(signal.ITIMER_REAL, deadline_s)
    ctypes.CDLL(None).prctl(_SET_PARENT_DEATH_SIGNAL, signal.SIGKILL)
    return os.getppid() == parent


def main() -> int:
    """Read the job, try once, print the answer."""
    # Whoever stops the service lets it wait for its attempts; it ends this process itself when it does not.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.SIG_IGN)
    job = json.loads(sys.stdin.readline())
    if _end_with(job["parent"], job["deadline_s"]):
        print(BEGUN, flush=True)
        answer = attempt(job)
    else:
        answer = not_now("the service has ended")
    print(json.dumps(answer._asdict()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
