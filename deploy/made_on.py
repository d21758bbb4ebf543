"""The day on which the cylinders of a calibration were made: on whichever way it comes, it has been."""

from __future__ import annotations

from shared.errors import Fault, SetupError
from shared.models.base import Ms
from shared.models.calibration import is_ahead


def not_ahead(made_on: str, now: Ms, file: str, field: str) -> None:
    """Refuse a day that lies ahead.

    Args:
        made_on: the day.
        now: the hour.
        file: where it was said.
        field: as what.

    Raises:
        SetupError: no cylinder can have been made on it yet.
    """
    if is_ahead(made_on, now):
        wanted = "the day on which the cylinders were made, which has been"
        raise SetupError([Fault(file, None, field, made_on, wanted)])
