"""SenML, RFC 8428: what a pack says, whatever it is written in; and SenML in JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from pydantic import ConfigDict, ValidationError

from ingest.payloads.decoded import Decoded, Decoder, Facts, Fault, Record, Told, quoted
from ingest.payloads.meaning import Measured, meaning
from ingest.payloads.strict_json import PayloadError, load
from shared.models import base
from shared.models.base import Json
from shared.models.payloads import SenmlTopic
from shared.models.readings import Reason

VERSION: Final = 10
"""RFC 8428, 4.4: a pack of a higher version must not be used."""
MOST_RECORDS: Final = 350
"""In a pack: some more than there is room for when each says all for itself. It could hold thousands of nothing."""
_BASE_FIELDS: Final = frozenset({"bn", "bt", "bu", "bv", "bs", "bver"})


class SenmlRecord(base.Record):
    """The fields of RFC 8428; strict: no text, true or false where a number belongs."""

    model_config = ConfigDict(strict=True)

    bn: str | None = None
    bt: float | None = None
    bu: str | None = None
    bv: float | None = None
    bs: float | None = None
    bver: float | None = None
    n: str = ""
    u: str | None = None
    v: float | None = None
    vs: str | None = None
    vb: bool | None = None
    vd: str | None = None
    s: float | None = None
    t: float = 0.0
    ut: float | None = None


@dataclass(frozen=True, slots=True)
class _Carried:
    """Base values so far: they hold for their own record and all later ones."""

    name: str = ""
    time_s: float = 0.0
    unit: str | None = None
    value: float = 0.0

    def on(self, record: SenmlRecord) -> _Carried:
        return _Carried(
            name=self.name if record.bn is None else record.bn,
            time_s=self.time_s if record.bt is None else record.bt,
            unit=self.unit if record.bu is None else record.bu,
            value=self.value if record.bv is None else record.bv,
        )

    def added_to(self, record: SenmlRecord) -> Measured:
        return Measured(
            name=self.name + record.n,
            unit=self.unit if record.u is None else record.u,
            time_s=self.time_s + record.t,
            value=None if record.v is None else self.value + record.v,
            text=record.vs,
            others=record.vb is not None or record.vd is not None,
        )


def _objects(pack: Json) -> list[dict[str, Json]]:
    if not isinstance(pack, list) or not pack or not all(isinstance(record, dict) for record in pack):
        raise PayloadError(Fault(Reason.SCHEMA, "a SenML pack is a list of at least one object"))
    if len(pack) > MOST_RECORDS:
        raise PayloadError(Fault(Reason.TOO_BIG, f"{len(pack)} records; at most {MOST_RECORDS}"))
    for number, record in enumerate(pack):
        unknown = next((key for key in record if key.endswith("_")), None)
        if unknown is not None:
            detail = f"record {number}: {quoted(unknown)} must be understood (RFC 8428, 4.4) and is not"
            raise PayloadError(Fault(Reason.SCHEMA, detail))
        version = record.get("bver")
        if isinstance(version, float) and not version <= VERSION:
            raise PayloadError(Fault(Reason.SCHEMA, f"record {number}: SenML version above {VERSION}"))
    return pack


def _modelled(number: int, fields: Mapping[str, Json]) -> SenmlRecord | Fault:
    try:
        return SenmlRecord.model_validate(fields)
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False)[0]
        reason = Reason.NOT_FINITE if first["type"] == "finite_number" else Reason.SCHEMA
        where = quoted(first["loc"][0]) if first["loc"] else "a key"
        return Fault(reason, f"record {number}: {where}: {first['msg']}, found {quoted(first['input'])}")


def resolved(pack: Json) -> Iterator[Measured | Fault]:
    """Yield the records of a pack with their base values added, and the records that break the model.

    Args:
        pack: a list of objects with the labels of JSON, every number a float.

    Raises:
        PayloadError: the pack as a whole cannot be used.
    """
    carried = _Carried()
    for number, fields in enumerate(_objects(pack)):
        record = _modelled(number, fields)
        if isinstance(record, Fault):
            yield record
            if _BASE_FIELDS & fields.keys():
                # What later records say stands on base values that nobody can read.
                yield Fault(Reason.SCHEMA, f"records after {number} are lost with its base values")
                return
            continue
        carried = carried.on(record)
        if fields.keys() - _BASE_FIELDS:
            yield carried.added_to(record)


def decode(told: Told, payload: bytes, read: Callable[[bytes], Json] = load) -> Decoded:
    """Return the temperatures, faults and facts of a pack; `read` raises `PayloadError` and nothing else."""
    if told.logger is None:
        return Decoded(faults=(Fault(Reason.TOPIC, "the topic names no logger"),))
    records: list[Record] = []
    faults: list[Fault] = []
    facts = Facts()
    try:
        for found in resolved(read(payload)):
            part = found if isinstance(found, Fault) else meaning(told.logger, found, facts)
            if isinstance(part, Record):
                records.append(part)
            elif isinstance(part, Fault):
                faults.append(part)
            else:
                facts = part
    except PayloadError as error:
        return Decoded(faults=(error.fault,))
    said = None if facts == Facts() else facts
    if not records and not faults and said is None:
        faults.append(Fault(Reason.SCHEMA, "a pack of base values only"))
    return Decoded(tuple(records), tuple(faults), said)


def decoder(_topic: SenmlTopic) -> Decoder:
    """Return the decoder; SenML says everything itself."""
    return decode
