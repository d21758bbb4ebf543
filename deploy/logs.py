"""What the service logs, as text or as JSON lines, without the site's secrets in either."""

from __future__ import annotations

import json
import logging
import re
import sys
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import Final
from urllib.parse import quote

from shared.models.base import Json

TEXT_FORM: Final = "%(levelname)s %(name)s: %(message)s"
KINDS: Final = ("text", "json")
HIDDEN: Final = "[hidden]"
LOG: Final = logging.getLogger("slabhour")
_IN_URLS: Final = re.compile(r"(?<=://)[^/\s@]+(?=@)")
_IN_HEADERS: Final = re.compile(r"(?i)\b(bearer|basic)\s+[\w.~+/=-]{8,}")


class Hider:
    """Takes secrets out of a text: the site's own, whoever signs in by a URL, and what a header would let in."""

    def __init__(self, secrets: Iterable[str]) -> None:
        """`secrets`: none of them empty."""
        forms = {form for one in secrets for form in (one, quote(one, safe=""), repr(one)[1:-1])}
        # The longest first: one may begin like another.
        ordered = sorted(forms, key=lambda form: (-len(form), form))
        self._known = re.compile("|".join(map(re.escape, ordered))) if ordered else None

    def __call__(self, text: str) -> str:
        """Return the text without them."""
        if self._known is not None:
            text = self._known.sub(HIDDEN, text)
        return _IN_HEADERS.sub(rf"\1 {HIDDEN}", _IN_URLS.sub(HIDDEN, text))


class TextLines(logging.Formatter):
    """A line a record, as people read them; after an error its traceback."""

    def __init__(self, hide: Hider) -> None:
        super().__init__(TEXT_FORM)
        self._hide = hide

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        return self._hide(super().format(record))


class JsonLines(logging.Formatter):
    """A JSON object a line: `at` (UTC), `level`, `logger`, `thread`, `message`, and of an error its traceback."""

    def __init__(self, hide: Hider) -> None:
        super().__init__()
        self._hide = hide

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        said: dict[str, Json] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "thread": record.threadName,
            "message": self._hide(record.getMessage()),
        }
        if record.exc_info:
            said["error"] = self._hide(self.formatException(record.exc_info))
        return json.dumps(said, ensure_ascii=False)


def begin(kind: str, secrets: Iterable[str], say: Callable[[str], None]) -> Callable[[str], None]:
    """Let what is logged from now on be of this kind and without the secrets; return how the service says what it does.

    Args:
        kind: "text" or "json".
        secrets: of the site.
        say: prints a line; with "json" such a line is logged instead, so that all of them are of one kind.
    """
    hide = Hider(secrets)
    form = JsonLines(hide) if kind == "json" else TextLines(hide)
    for handler in logging.getLogger().handlers:
        # Of the command line; others, such as a test's, are not ours.
        if type(handler) is logging.StreamHandler and handler.stream is sys.stderr:
            handler.setFormatter(form)
    if kind != "json":
        return say
    LOG.setLevel(logging.INFO)
    return LOG.info
