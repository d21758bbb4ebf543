"""Who may send readings by HTTP: the file that the site file names."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ingest.broker_access import read_users
from shared.errors import Fault, SetupError
from shared.models.base import LoggerId
from shared.models.setup import Setup


def web_loggers(setup: Setup) -> Mapping[LoggerId, str]:
    """Return them with their passwords; empty: nobody may. Raises `SetupError`, without repeating a password.

    Where [web] names no file, those who sign in at the embedded broker may: one password a logger for both ways.
    """
    site = setup.site
    table, name = ("web", site.web.loggers_file)
    if name is None:
        table, name = ("broker", site.broker.loggers_file)
    if name is None:
        return {}
    try:
        text = Path(setup.folder, name).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "is no text"
        fault = Fault("site file", None, f"{table}.loggers_file", f"{name}: {why}", "a file that can be read")
        raise SetupError([fault]) from error
    return read_users(text, name)


def taken_by_web(setup: Setup) -> str:
    """Return in words what readings are taken. Raises `SetupError`."""
    many = len(web_loggers(setup))
    if not many:
        return "no readings by HTTP, since no loggers_file is set"
    return f"readings by HTTP at /r/<logger> and /t/<topic>, from {many} that may sign in"
