"""What loggers send, one file a format."""

from __future__ import annotations

from typing import Final

from ingest.payloads import senml
from ingest.payloads.decoded import Decoder

FORMATS: Final[dict[str, Decoder]] = {"senml+json": senml.decode}
