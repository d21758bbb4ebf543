"""SenML in CBOR, RFC 8428, section 6: the same packs as in JSON, with whole numbers for labels."""

from __future__ import annotations

from base64 import urlsafe_b64encode
from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import partial
from io import BytesIO
from typing import Any, Final, NoReturn

import cbor2

from ingest.payloads import senml
from ingest.payloads.decoded import Decoder, Fault, quoted
from ingest.payloads.strict_json import LIMIT_BYTES, PayloadError
from shared.models.base import Json
from shared.models.payloads import SenmlTopic
from shared.models.readings import Reason

LABELS: Final[Mapping[int, str]] = {
    -6: "bs", -5: "bv", -4: "bu", -3: "bt", -2: "bn", -1: "bver",
    0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
}  # fmt: skip
"""RFC 8428, section 6. It will never grow: a new field has its name for a label, as in JSON."""
DEEPEST: Final = 4
"""A pack is a list of maps, and a decimal fraction in it a list of two."""
LARGEST_EXPONENT: Final = 400
"""Of a decimal fraction: beyond what a float holds."""


class _TagError(ValueError):
    """A tag that SenML has no use for."""


def _no_tag(*_: object) -> NoReturn:
    raise _TagError


def _decimal(value: Any, _immutable: bool) -> float:
    """Return a decimal fraction, RFC 8949, 3.4.4: exponent of ten and mantissa."""
    parts = list(value) if isinstance(value, list | tuple) else []
    if len(parts) != 2 or not all(type(part) is int for part in parts) or not abs(parts[0]) <= LARGEST_EXPONENT:
        raise _TagError
    return float(Decimal(parts[1]).scaleb(parts[0]))


_KNOWN_TAGS: Final = (0, 1, 2, 3, 5, 25, 28, 29, 30, 35, 36, 37, 52, 54, 100, 256, 258, 260, 261, 1004, 43000, 55799)
"""Those that cbor2 would act on: one makes regular expressions, one numbers of any length, one loops."""
_TAGS: Final[Mapping[int, Callable[[Any, bool], Any]]] = {**dict.fromkeys(_KNOWN_TAGS, _no_tag), 4: _decimal}


def _fail(reason: Reason, detail: str) -> NoReturn:
    raise PayloadError(Fault(reason, detail))


def _read(payload: bytes) -> Any:
    decoder = cbor2.CBORDecoder(
        BytesIO(payload), tag_hook=_no_tag, semantic_decoders=_TAGS, max_depth=DEEPEST, allow_duplicate_keys=False
    )
    try:
        found = decoder.decode()
    except (cbor2.CBORError, ArithmeticError, TypeError, ValueError) as error:
        cause = error.__cause__
        if isinstance(cause, _TagError):
            _fail(Reason.SCHEMA, "a CBOR tag other than that of a decimal fraction")
        if isinstance(cause, UnicodeDecodeError):
            _fail(Reason.NOT_UTF8, "a text that is not UTF-8")
        if "Duplicate map key" in str(error):
            _fail(Reason.DUPLICATE_KEY, "a label twice in one map")
        _fail(Reason.NOT_CBOR, quoted(str(error)))
    try:
        decoder.read(1)
    except cbor2.CBORDecodeEOF:
        return found
    _fail(Reason.NOT_CBOR, "something follows the pack")


def _name_of(label: object) -> str:
    """Return the label as JSON has it, of a field that is not one of SenML's."""
    if type(label) is int:
        return f"label {label}"
    if not isinstance(label, str) or label in LABELS.values():
        _fail(Reason.SCHEMA, f"label {quoted(label)}: the fields of SenML have whole numbers for labels")
    return label


def _text(value: object) -> Json:
    """Return data as JSON has it; anything else stays."""
    return urlsafe_b64encode(value).decode("ascii") if isinstance(value, bytes) else value


def _as_json(record: Mapping[object, object]) -> Mapping[str, Json]:
    found: dict[str, Json] = {}
    for label, value in record.items():
        # By type alone: true and 1.0 are equal to 1.
        name = LABELS.get(label) if type(label) is int else None
        found[_name_of(label) if name is None else name] = float(value) if type(value) is int else _text(value)
    return found


def load(payload: bytes) -> Json:
    """Return the pack as JSON would say it: named labels, every number a float. Raises `PayloadError` alone."""
    if len(payload) > LIMIT_BYTES:
        _fail(Reason.TOO_BIG, f"{len(payload)} bytes; at most {LIMIT_BYTES}")
    pack = _read(payload)
    if not isinstance(pack, list) or len(pack) > senml.MOST_RECORDS:
        # No pack, or one that is refused for its records whatever they say.
        return pack
    return [_as_json(record) if isinstance(record, dict) else record for record in pack]


def decoder(_topic: SenmlTopic) -> Decoder:
    """Return the decoder; SenML says everything itself."""
    return partial(senml.decode, read=load)
