"""The headers that every answer of the web server bears, whoever makes it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

HEADERS: Final[Mapping[str, str]] = {
    "Content-Security-Policy": (
        "default-src 'self'; object-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
    ),
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    # Not "no-referrer": browsers then send "Origin: null" with every form, and nothing tells ours from a stranger's.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
"""Unless an answer brings its own."""
OVER_TLS: Final[Mapping[str, str]] = {"Strict-Transport-Security": f"max-age={30 * 86_400}"}
"""Of an answer over TLS besides: the browser asks no more without. It heeds that of a certificate that it trusts."""
