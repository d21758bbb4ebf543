"""Pictures that come by a form: told by what is in them, handed out so that no browser takes them for anything else."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Final

from starlette.responses import Response

MOST_BYTES: Final = 6 * 1024 * 1024
"""What the cameras of phones make of a page is smaller."""
LARGEST_PX: Final = 20_000
_PNG: Final = b"\x89PNG\r\n\x1a\n"
_SIZES: Final = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
"""JPEG markers of frames: they hold the size."""
_ALONE: Final = frozenset({0x01, *range(0xD0, 0xD8)})
"""JPEG markers without a length."""
LOCKED: Final = "default-src 'none'; sandbox"


@dataclass(frozen=True, slots=True)
class Kind:
    """What a picture is."""

    media: str
    suffix: str


JPEG, PNG, WEBP = Kind("image/jpeg", "jpg"), Kind("image/png", "png"), Kind("image/webp", "webp")


def kind_of(body: bytes) -> Kind | None:
    """Return what a picture is by its content: its first bytes, and a size where its format has one; None: none."""
    for kind, size in ((JPEG, _jpeg), (PNG, _png), (WEBP, _webp)):
        found = size(body)
        if found is not None and all(0 < px <= LARGEST_PX for px in found):
            return kind
    return None


def _jpeg(body: bytes) -> tuple[int, int] | None:
    if not body.startswith(b"\xff\xd8\xff"):
        return None
    at = 2
    while at + 9 <= len(body) and body[at] == 0xFF:
        marker = body[at + 1]
        if marker == 0xFF or marker in _ALONE:
            at += 1 if marker == 0xFF else 2
        elif marker in _SIZES:
            height, width = struct.unpack(">HH", body[at + 5 : at + 9])
            return width, height
        else:
            at += 2 + max(2, int.from_bytes(body[at + 2 : at + 4], "big"))
    return None


def _png(body: bytes) -> tuple[int, int] | None:
    if not body.startswith(_PNG) or body[12:16] != b"IHDR" or len(body) < 33:
        return None
    width, height = struct.unpack(">II", body[16:24])
    return width, height


def _webp(body: bytes) -> tuple[int, int] | None:
    whole = body[:4] == b"RIFF" and body[8:12] == b"WEBP" and len(body) >= 30
    if not whole or int.from_bytes(body[4:8], "little") + 8 > len(body) + 1:
        return None
    kind = body[12:16]
    if kind == b"VP8X":
        return int.from_bytes(body[24:27], "little") + 1, int.from_bytes(body[27:30], "little") + 1
    if kind == b"VP8 " and body[23:26] == b"\x9d\x01\x2a":
        width, height = struct.unpack("<HH", body[26:30])
        return width & 0x3FFF, height & 0x3FFF
    if kind == b"VP8L" and body[20] == 0x2F:
        bits = int.from_bytes(body[21:25], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    return None


def handed_out(body: bytes, kind: Kind, digest: str) -> Response:
    """Return a picture as an answer: to look at in a page or to save, never a page of its own."""
    headers = {
        "Content-Disposition": f'attachment; filename="ticket-{digest[:12]}.{kind.suffix}"',
        "Content-Security-Policy": LOCKED,
        "X-Content-Type-Options": "nosniff",
        "Cross-Origin-Resource-Policy": "same-origin",
        # Its name says what is in it; whoever may see it is asked each time.
        "Cache-Control": "private, no-cache",
    }
    return Response(body, media_type=kind.media, headers=headers)
