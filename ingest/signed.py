"""Messages that a logger signs: HMAC-SHA256 over what it says, by a key that only it and the site have. Pure.

What is signed is the text below, in ASCII, not the bytes of the message: a gateway may write them anew. A line each,
every line with its end (LF): `slabhour-1`; the logger; its boot; its sequence number; then for each temperature, in the
order of the message: channel, time of measuring in ms since 1970, thousandths of a degree Celsius, a blank between.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from ingest.listed import Listed, read_listed
from ingest.payloads.decoded import Decoded, Fault, Told
from shared.models.base import LoggerId, SensorId
from shared.models.readings import Reason

VERSION: Final = "slabhour-1"
"""Begins each signed text: a later form begins otherwise, so that neither passes for the other."""
Keys = Mapping[LoggerId, bytes]
_KEYS: Final = Listed("key", r"[0-9a-f]{64}", "a logger's name, a blank, 64 of 0-9, a-f (openssl rand -hex 32)")


def signed_text(logger: LoggerId, decoded: Decoded) -> bytes:
    """Return what a logger signs of a message that says its boot and its number."""
    facts = decoded.facts
    head = (VERSION, logger, "" if facts is None else facts.boot, "" if facts is None else facts.sequence)
    temperatures = (f"{r.sensor.partition('.')[2]} {r.taken_ms} {r.milli_c}" for r in decoded.records)
    return "".join(f"{line}\n" for line in (*head, *temperatures)).encode("ascii")


def mac_of(key: bytes, logger: LoggerId, decoded: Decoded) -> str:
    """Return the signature, as 64 of 0-9, a-f."""
    return hmac.new(key, signed_text(logger, decoded), hashlib.sha256).hexdigest()


def believed(told: Told, decoded: Decoded, keys: Keys) -> Decoded:
    """Return what may be taken of a message: of a logger that has a key, nothing that it did not sign.

    Args:
        told: what the topic says of the sender.
        decoded: the message.
        keys: of the loggers that must sign.
    """
    if told.logger is None:
        return _of_many(decoded, keys) if keys else decoded
    key = keys.get(told.logger)
    if key is None or not (decoded.records or decoded.untimed or decoded.facts):
        return decoded
    why = _wrong(key, told.logger, decoded)
    if why is None:
        return decoded
    return Decoded(faults=(*decoded.faults, Fault(Reason.SIGNATURE, f"{told.logger} must sign: {why}")))


def _wrong(key: bytes, logger: LoggerId, decoded: Decoded) -> str | None:
    facts = decoded.facts
    if facts is None or facts.mac is None:
        return "the message bears no mac"
    if decoded.untimed:
        return "a temperature without the logger's own hour cannot be signed"
    if facts.boot is None or facts.sequence is None:
        return "boot and seq must be said, or it could be played again"
    if not hmac.compare_digest(mac_of(key, logger, decoded), facts.mac):
        return "the mac is not that of this logger, boot, seq, times and values"
    return None


def _of_many(decoded: Decoded, keys: Keys) -> Decoded:
    """Return a message that names its loggers inside without those that must sign: it bears no mac of any of them."""

    def must(sensor: SensorId) -> bool:
        return LoggerId(sensor.partition(".")[0]) in keys

    said = [*(record.sensor for record in decoded.records), *(untimed.sensor for untimed in decoded.untimed)]
    faults = [
        Fault(Reason.SIGNATURE, f"{sensor}: its logger must sign, which a topic without {{logger}} has no way to")
        for sensor in said
        if must(sensor)
    ]
    return replace(
        decoded,
        records=tuple(r for r in decoded.records if not must(r.sensor)),
        untimed=tuple(u for u in decoded.untimed if not must(u.sensor)),
        faults=(*decoded.faults, *faults),
    )


def read_keys(text: str, file: str) -> dict[LoggerId, bytes]:
    """Return the loggers that must sign, with their keys: a line each, name and key apart by blanks; `#` is a remark.

    Raises:
        SetupError: every line that is none, and every name twice; no key is repeated in it.
    """
    return {logger: bytes.fromhex(key) for logger, key in read_listed(text, file, _KEYS).items()}
