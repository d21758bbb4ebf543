"""What people do at the change of shifts."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import StringConstraints

from shared.models.act_base import ActBase
from shared.models.base import Line

SeenCode = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{12}$")]


class TakeOver(ActBase):
    """A person takes the shift over, having read what stands. It changes nothing else."""

    kind: Literal["take_over"] = "take_over"
    seen: SeenCode
    """Of the handover sheet that they read: its code."""
    note: Line | None = None
    """What was said besides."""
