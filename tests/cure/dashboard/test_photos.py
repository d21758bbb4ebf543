"""Pictures are told by what is in them, and handed out as nothing but pictures."""

from __future__ import annotations

import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.dashboard.photos import JPEG, PNG, WEBP, Kind, handed_out, kind_of


def png(width: int, height: int) -> bytes:
    """Return a grey picture (PNG specification, W3C, section 5)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    rows = b"".join(b"\0" + b"\x80" * width for _ in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def jpeg(width: int, height: int, frame: int = 0xC0) -> bytes:
    """Return the head of one (ITU-T T.81, annex B; from memory): SOI, APP0, a filler, the frame, EOI."""
    app0 = b"\xff\xe0" + struct.pack(">H", 16) + b"JFIF\0" + bytes(9)
    of = b"\xff" + bytes([frame]) + struct.pack(">HBHHB", 11, 8, height, width, 1) + bytes(3)
    return b"\xff\xd8" + app0 + b"\xff" + of + b"\xff\xd9"


def webp(kind: bytes, data: bytes) -> bytes:
    """Return one of a single chunk (RFC 9649)."""
    chunk = kind + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(chunk) + 4) + b"WEBP" + chunk


GOOD = [
    (png(3, 2), PNG),
    (jpeg(4032, 3024), JPEG),
    (jpeg(10, 10, 0xC2), JPEG),
    (webp(b"VP8X", bytes(4) + (639).to_bytes(3, "little") + (479).to_bytes(3, "little")), WEBP),
    (webp(b"VP8 ", bytes(3) + b"\x9d\x01\x2a" + struct.pack("<HH", 640, 480) + bytes(4)), WEBP),
    (webp(b"VP8L", b"\x2f" + (639 | 479 << 14).to_bytes(4, "little") + bytes(8)), WEBP),
]


@pytest.mark.parametrize(("body", "kind"), GOOD)
def test_a_picture_is_told_by_its_content(body: bytes, kind: Kind) -> None:
    assert kind_of(body) is kind


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<!doctype html><img src=x onerror=alert(1)>",
        b"GIF89a" + bytes(40),
        b"%PDF-1.7",
        b"\xff\xd8\xff\xe0<script>",
        b"\x89PNG\r\n\x1a\n" + b"<script>alert(1)</script>" * 3,
        jpeg(0, 10),
        jpeg(30_000, 10),
        jpeg(10, 10)[:-14],
        png(3, 2)[:30],
        webp(b"VP8Q", bytes(20)),
        webp(b"VP8L", bytes(20)),
    ],
)
def test_what_is_no_picture_is_none(body: bytes) -> None:
    assert kind_of(body) is None


@given(st.sampled_from([body for body, _ in GOOD]), st.binary(max_size=60), st.integers(0, 60))
def test_any_bytes_are_told_without_a_fault(head: bytes, tail: bytes, cut: int) -> None:
    assert kind_of(head[:cut] + tail) in {None, JPEG, PNG, WEBP}


def test_a_picture_is_handed_out_as_nothing_but_a_picture() -> None:
    answer = handed_out(png(3, 2), PNG, "ab" * 32)
    assert answer.headers["Content-Type"] == "image/png"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="ticket-abababababab.png"'
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer.headers["Content-Security-Policy"]
