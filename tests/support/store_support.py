"""A small valid site, its pours and readings, and a site book on disk: builders for every part's tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from shared.models.acts import PourStart
from shared.models.base import LOAD, STRIP, WALK, BayId, MixId, Ms, Operation, PourId, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import Gate, GateState, LogEntry, Pour, PourState
from shared.models.messages import MessageKind, NewMessage
from shared.models.readings import Reading
from shared.models.setup import Setup, SiteFile
from shared.models.stores import PostgresqlSettings
from shared.ports import PourCase, Result

if TYPE_CHECKING:
    from shared.store.book import SiteBook

T0: Ms = 1_764_000_000_000
"""2025-11-24T16:00Z: the hour at which these builders' pours begin."""
BAY = BayId("2-b1")
OTHER_BAY = BayId("2-b2")
POUR = PourId("2-b1-p1")
EDGE = SensorId("lg-01.1")
INSIDE = SensorId("lg-01.2")
END = SensorId("lg-02.1")
AIR = SensorId("lg-09.1")


def _sensors(first: int) -> list[dict[str, Any]]:
    return [
        {"id": f"lg-{first:02}.1", "zone": "exposed edge", "depth_mm": 50},
        {"id": f"lg-{first:02}.2", "zone": "interior", "depth_mm": 50},
        {"id": f"lg-{first + 1:02}.1", "zone": "last-placed end", "depth_mm": 50},
        {"id": f"lg-{first + 8:02}.1", "zone": "air", "required": False},
    ]


def bay_dict(bay: str = BAY, *, first_logger: int = 1, **changes: Any) -> dict[str, Any]:
    """Return the JSON of one [[bay]]."""
    return {
        "id": bay,
        "floor": "2",
        "mix": "c32-f",
        "thickness_mm": 100,
        "joist_spacing_mm": 1220,
        "exclusions": "none",
        "construction_load_kpa": 1.0,
        "sensors": _sensors(first_logger),
        **changes,
    }


def site_dict(**changes: Any) -> dict[str, Any]:
    """Return the JSON of a two-bay site; `changes` replace whole top-level sections."""
    return {
        "site": {
            "id": "millrace",
            "name": "Millrace House",
            "zone": "America/Halifax",
            "clock_sync": "not-checked",
        },
        "plan": {
            "use": "common-practice",
            "adopted_by": "engineer of record",
            "document": "release-criteria-rev2.pdf",
            "sign_offs": 1,
            "second_check": False,
        },
        "mix": [{"id": "c32-f", "supplementary": False, "calibration": "calibrations/c32-f-v1.toml"}],
        "bay": [
            bay_dict(BAY, first_logger=1, neighbours=[OTHER_BAY]),
            bay_dict(OTHER_BAY, first_logger=11),
        ],
        "recipient": [
            {"id": "super", "role": "superintendent", "channels": [{"kind": "inbox"}]},
            {"id": "qc", "role": "qc", "channels": [{"kind": "inbox", "file": "qc.jsonl"}]},
            {"id": "engineer", "role": "engineer"},
        ],
        **changes,
    }


def make_site(**changes: Any) -> SiteFile:
    """Return a valid site file; `changes` replace whole top-level sections."""
    return SiteFile.model_validate(site_dict(**changes))


def make_calibration(mix: str = "c32-f", version: int = 1, **changes: Any) -> Calibration:
    """Return an invented calibration."""
    return Calibration.model_validate(
        {
            "mix": mix,
            "version": version,
            "made_on": "invented for tests",
            "curve": "exponential",
            "parameters": {"su_mpa": 40.0, "tau_h": 30.0, "beta": 0.9},
            "covariance": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 0.0001)),
            "degrees_of_freedom": 9,
            "tested_from_h": 8.0,
            "tested_to_h": 700.0,
            **changes,
        }
    )


def make_setup(
    site: SiteFile | None = None, calibrations: Sequence[Calibration] | None = None, folder: str = "."
) -> Setup:
    """Return a valid set-up with one calibrated mix and two bays, or of what is given."""
    known = [make_calibration()] if calibrations is None else calibrations
    return Setup(make_site() if site is None else site, {c.mix: c for c in known}, folder)


def make_pour(
    pour: str = POUR,
    bay: str = BAY,
    *,
    start_ms: Ms = T0,
    end_ms: Ms | None = None,
    calibration_version: int | None = 1,
) -> Pour:
    """Return an open pour."""
    return Pour(
        PourId(pour), BayId(bay), MixId("c32-f"), start_ms, end_ms=end_ms, calibration_version=calibration_version
    )


def make_start(pour: str = POUR, bay: str = BAY, at_ms: Ms = T0) -> PourStart:
    """Return the act that begins a pour."""
    return PourStart(at=datetime.fromtimestamp(at_ms / 1000, UTC), who="super", bay=bay, pour=pour)


def make_log(what: str = "act", at_ms: Ms = T0, **body: Any) -> LogEntry:
    """Return a log line."""
    return LogEntry(at_ms, "super", what, body)


def make_reading(sensor: str = EDGE, minutes: float = 0, c: float = 20.0, *, late_min: float = 0) -> Reading:
    """Return a reading so many minutes after T0."""
    taken = T0 + round(minutes * 60_000)
    return Reading(SensorId(sensor), taken, round(c * 1000), taken + 2_000 + round(late_min * 60_000))


def make_message(
    kind: MessageKind = MessageKind.RELEASED,
    *,
    pour: str = POUR,
    subject: str = STRIP,
    epoch: int = 1,
    at_ms: Ms = T0,
    valid_until_ms: Ms | None = None,
    **facts: Any,
) -> NewMessage:
    """Return a message as cure would write it."""
    return NewMessage(kind, PourId(pour), subject, epoch, at_ms, valid_until_ms, facts)


def make_gates(pour: str = POUR, **states: GateState) -> tuple[Gate, ...]:
    """Return the three gates of a pour, in the states given by name (strip, walk, load), else curing."""
    return tuple(
        Gate(PourId(pour), operation, states.get(operation, GateState.CURING), changed_ms=T0)
        for operation in (STRIP, WALK, LOAD)
    )


def make_result(case: PourCase, *, at_ms: Ms = T0, **changes: Any) -> Result:
    """Return a result that leaves the case as it is but for `changes`."""
    whole: dict[str, Any] = {
        "at_ms": at_ms,
        "pour": case.pour,
        "gates": tuple(case.gates.values()),
        "holds": case.holds,
        "state": PourState(at_ms, case.input_revision, next_due_ms=at_ms + 60_000),
    }
    return Result(**(whole | changes))


def gates_with(case: PourCase, operation: Operation, gate: Gate) -> tuple[Gate, ...]:
    """Return the case's gates with one replaced."""
    return tuple((dict(case.gates) | {operation: gate}).values())


class _Placing:
    """Where the books of the folders are that tests name."""

    on_server: Callable[[Path], PostgresqlSettings] | None = None
    """None: in files of the folders."""


PLACING: Final = _Placing()


def placed(folder: Path, setup: Setup | None = None) -> Setup:
    """Return a set-up whose book is where the books of this test are."""
    setup = make_setup() if setup is None else setup
    if PLACING.on_server is None:
        return setup
    stores = setup.site.stores.model_copy(update={"book": PLACING.on_server(folder)})
    return replace(setup, site=setup.site.model_copy(update={"stores": stores}))


@contextmanager
def opened_book(folder: Path, setup: Setup | None = None, now: Ms = T0, *, pours: int = 1) -> Iterator[SiteBook]:
    """Open a site book in `folder`; with a pour in the first bay, and with `pours=2` in the second one too."""
    from shared.store import open_book

    book = open_book(placed(folder, setup), folder, now)
    try:
        for pour, bay in ((POUR, BAY), ("2-b2-p1", OTHER_BAY))[:pours]:
            if book.cure.pour_named(PourId(pour)) is None:
                book.cure.open_pour(make_start(pour, bay), make_pour(pour, bay), make_log(pour=pour))
        yield book
    finally:
        book.close()
