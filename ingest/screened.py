"""A record held against its placements and against what the book remembers of its message and hour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ingest.payloads.decoded import Fault, Record
from ingest.screening import ahead, screen
from ingest.sheet import Sheet
from shared.models.base import Ms, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Reason


def by_sensor(placements: Sequence[Placement]) -> Mapping[SensorId, Sequence[Placement]]:
    """Return placements by their sensor."""
    found: dict[SensorId, list[Placement]] = {}
    for placement in placements:
        found.setdefault(placement.sensor, []).append(placement)
    return found


def screened(
    record: Record, received: Ms, placed: Mapping[SensorId, Sequence[Placement]], sheet: Sheet
) -> Fault | None:
    """Return why a record is not taken, with what the book remembers of its hour; None: it is taken."""
    key = (record.sensor, record.taken_ms)
    if key in sheet.replayed:
        return Fault(Reason.REPLAYED, f"{record.sensor}: its message came before, without this hour", record.sensor)
    found = ahead(record) if key in sheet.ahead else screen(record, placed.get(record.sensor, ()), received)
    if found is None:
        return None
    reason, detail = found
    if reason is not Reason.CLOCK_FUTURE:
        return Fault(reason, detail, record.sensor)
    # Another copy may wait in this very batch, with a later hour of receipt.
    sheet.ahead.add(key)
    return Fault(reason, detail, record.sensor, record.taken_ms)
