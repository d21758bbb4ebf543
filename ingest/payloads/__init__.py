"""What loggers send, one file a format."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from ingest.payloads import json_map, senml, senml_cbor, text
from ingest.payloads.decoded import Format

FORMATS: Final[Mapping[str, Format]] = {
    "senml+json": Format(senml.decoder),
    "senml+cbor": Format(senml_cbor.decoder),
    "json": Format(json_map.decoder),
    "text": Format(text.decoder, untimed=True),
}
