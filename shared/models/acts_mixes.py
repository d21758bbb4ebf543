"""What people do with the calibrations of mixes."""

from __future__ import annotations

from typing import Literal

from shared.models.act_base import ActBase
from shared.models.base import Id, Line
from shared.models.calibration import Calibration


class PutInForce(ActBase):
    """A new version of a mix's calibration is put in force: pours whose end is not entered are judged by it.

    A pour that has a version keeps it.
    """

    kind: Literal["calibration"] = "calibration"
    calibration: Calibration
    second_person: Id
    why: Line
