"""What stands beside the pages in tests: invented loggers, real labels, and a fit without a process of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from store_support import BAY, T0, bay_dict

from cure.dashboard.beside import Beside, Judgement, LoggersSeen, Programme, Refusals
from cure.first_reading import Check, Found, Warmth
from cure.loggers import LoggerRow, Standing
from deploy import labels
from deploy.fit_worker import judged
from shared.models.base import HOUR_MS, BayId, SensorId
from shared.models.decisions import Placement
from shared.models.forecasts import ScoredForecast
from shared.models.setup import BaySettings, Zone

HEARD_MS = T0 + 30 * HOUR_MS - 240_000
EDGE = Placement(SensorId("lg-01.1"), BayId(BAY), Zone.EXPOSED_EDGE, 50, 900, required=True, position="grid C4")
ROWS = (
    LoggerRow("lg-01.1", Standing.ALIVE, EDGE, HEARD_MS, 30_600, 81.0, -71.0, "nothing"),
    LoggerRow(
        "lg-02.1",
        Standing.SILENT,
        replace(EDGE, sensor=SensorId("lg-02.1"), zone=Zone.TOP),
        HEARD_MS - 3 * HOUR_MS,
        11_200,
        12.0,
        None,
        "go and look, nothing for 3 h: battery, cable, radio",
    ),
    LoggerRow("lg-03", Standing.NOT_PLACED, None, HEARD_MS, None, None, -88.0, "place it, nothing of it counts"),
)
FOUND: Mapping[SensorId, Sequence[Check]] = {
    SensorId("lg-01.1"): (
        Check("place", Found.OK, "in bay 2-b1, exposed edge, 50 mm deep"),
        Check("alive", Found.OK, "30.6 degC 4 min ago"),
        Check("interval", Found.NOT_OK, "every 30 min, not every 15 min as set: set the logger"),
    )
}


SCORED: list[ScoredForecast] = []
"""Forecasts with their scores: what a test puts in, it takes out."""


def in_process(programme: Programme) -> Judgement:
    """Fit without a process of its own: the same code."""
    return Judgement.from_json(judged(programme.to_json()))


def quiet_beside() -> Beside:
    """Return what the pages ask of others."""
    return Beside(
        in_process,
        lambda: LoggersSeen(ROWS, {"": Refusals(3, "unit"), "lg-02": Refusals(3, "unit")}),
        lambda _: {},
        lambda name: {s: found for s, found in FOUND.items() if s == name or s.startswith(f"{name}.")},
        lambda sensor, began_ms: Warmth(Found.NOT_YET, f"hold it in your hand; {sensor}, {began_ms}"),
        drawn,
        lambda name, bays: "\n".join([name, *bays]),
        lambda: SCORED,
        lambda: HEARD_MS,
        lambda _: None,
    )


def drawn(address: str, paper: str, bays: Sequence[str]) -> Sequence[str]:
    """Return a sheet of two labels."""
    bay = BaySettings.model_validate(bay_dict(bays[0] if bays else BAY))
    return labels.sheets(labels.labels([bay], [EDGE], address), paper)
