"""What loggers send, one file a format."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from ingest.payloads import json_map, senml, senml_cbor, text
from ingest.payloads.decoded import Format

FORMATS: Final[Mapping[str, Format]] = {
    "senml+json": Format(senml.decoder, ("application/senml+json", "application/json")),
    "senml+cbor": Format(senml_cbor.decoder, ("application/senml+cbor", "application/cbor")),
    "json": Format(json_map.decoder, ("application/json",)),
    "text": Format(text.decoder, ("text/plain",), untimed=True),
}
