"""What goes back: pages, parts of pages, their tags; text compressed."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Mapping
from typing import Final

from starlette.responses import Response

WORTH_BYTES: Final = 500
"""Shorter text is sent as it is."""
_LEVEL: Final = 4
"""Of compression: a bay's page is a tenth longer than at 6, and takes a third of the time."""
HTML: Final = "text/html; charset=utf-8"


def answer(text: str, *, status: int = 200, kind: str = HTML, headers: Mapping[str, str] | None = None) -> Response:
    """Return a text as an answer."""
    return Response(text, status_code=status, media_type=kind, headers=dict(headers or {}))


def empty(status: int, headers: Mapping[str, str] | None = None) -> Response:
    """Return an answer without a body."""
    return Response(status_code=status, headers=dict(headers or {}))


def see_other(path: str) -> Response:
    """Send a browser on to a page of ours: what it does after every form."""
    return Response(status_code=303, headers={"Location": path})


def tag_of(text: str) -> str:
    """Return what a part of a page is known by."""
    return f'"{hashlib.sha256(text.encode()).hexdigest()[:20]}"'


def tagged(text: str, known_tag: str | None, hour: str) -> Response:
    """Return a part of a page with its tag and the site's hour; no text when the asker has the same."""
    tag = tag_of(text)
    headers = {"ETag": tag, "Site-Hour": hour}
    return empty(304, headers) if known_tag == tag else answer(text, headers=headers)


def is_local_path(path: str) -> bool:
    """Return whether a path leads to a page of ours and nowhere else."""
    plain = path.isascii() and path.isprintable() and "\\" not in path
    return plain and path.startswith("/") and not path.startswith("//")


def finished(response: Response, accepted: str) -> Response:
    """Compress a text for whoever takes that. The headers of every answer come from whoever mounts the pages.

    Args:
        response: the answer.
        accepted: the asker's Accept-Encoding.
    """
    body = bytes(response.body)
    if len(body) >= WORTH_BYTES and "gzip" in accepted and "content-encoding" not in response.headers:
        response.body = gzip.compress(body, _LEVEL, mtime=0)
        response.headers["Content-Encoding"] = "gzip"
        response.headers["Content-Length"] = str(len(response.body))
    if body:
        response.headers["Vary"] = "Accept-Encoding, Cookie"
    return response
