"""Which loggers must sign their messages: the file of keys that the site file names."""

from __future__ import annotations

from pathlib import Path

from ingest.signed import Keys, read_keys
from shared.errors import Fault, SetupError
from shared.models.setup import Setup


def logger_keys(setup: Setup) -> Keys:
    """Return the keys of the loggers that must sign; empty: none must. Raises `SetupError`, without repeating a key."""
    name = setup.site.site.keys_file
    if name is None:
        return {}
    try:
        text = Path(setup.folder, name).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "is no text"
        fault = Fault("site file", None, "site.keys_file", f"{name}: {why}", "a file that can be read")
        raise SetupError([fault]) from error
    return read_keys(text, name)


def signing(setup: Setup) -> str:
    """Return in words who must sign. Raises `SetupError`."""
    keys = logger_keys(setup)
    placed = {sensor.id.partition(".")[0] for bay in setup.site.bay for sensor in bay.sensors}
    unknown = sorted(keys.keys() - placed)
    if not keys:
        return "no logger must sign its messages"
    elsewhere = f"; in no bay of the site file: {', '.join(unknown)}" if unknown else ""
    return f"{len(keys)} loggers must sign their messages{elsewhere}"
