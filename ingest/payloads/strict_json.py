"""JSON of strangers: bounded, strict UTF-8, no key twice, no NaN. Every number becomes a float."""

from __future__ import annotations

import json
from collections import Counter
from typing import Final, NoReturn

from ingest.payloads.decoded import Fault, quoted
from shared.models.base import Json
from shared.models.readings import Reason

LIMIT_BYTES: Final = 16 * 1024


class PayloadError(ValueError):
    """The payload as a whole cannot be read."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.detail)
        self.fault = fault


def _fail(reason: Reason, detail: str) -> NoReturn:
    raise PayloadError(Fault(reason, detail))


def _object(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    found = dict(pairs)
    if len(found) != len(pairs):
        # In one walk: an object may have thousands of keys.
        counted = Counter(name for name, _ in pairs)
        twice = next(name for name, times in counted.items() if times > 1)
        _fail(Reason.DUPLICATE_KEY, f"key {quoted(twice)} twice in one object")
    return found


def _constant(name: str) -> NoReturn:
    _fail(Reason.NOT_FINITE, f"{name} is not a JSON number")


# Integers too become floats: a number of 5000 digits is then infinite and refused by the model, not an error of the
# interpreter. Made once: `json.loads` would make another for each message.
_DECODER: Final = json.JSONDecoder(object_pairs_hook=_object, parse_constant=_constant, parse_int=float)


def load(payload: bytes, limit_bytes: int = LIMIT_BYTES) -> Json:
    """Return the JSON value of the bytes. Raises `PayloadError` and nothing else."""
    if len(payload) > limit_bytes:
        _fail(Reason.TOO_BIG, f"{len(payload)} bytes; at most {limit_bytes}")
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError as error:
        _fail(Reason.NOT_UTF8, f"byte {error.start} is not UTF-8")
    try:
        found: Json = _DECODER.decode(text)
    except json.JSONDecodeError as error:
        _fail(Reason.NOT_JSON, f"{error.msg} at character {error.pos}")
    except RecursionError:
        _fail(Reason.NOT_JSON, "nested too deep")
    return found
