"""Short texts: the GSM 7-bit basic alphabet, 140 characters, nothing cut that changes the meaning."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

BASIC: Final = frozenset(
    "@£$¥èéùìòÇØøÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿"
    "abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""One septet each (3GPP TS 23.038, default alphabet), without its two line ends and its escape."""
LONGEST: Final = 140
_LEAST: Final = 6
_LONGEST_NAME: Final = 48
_SAID: Final = {
    "°": "",
    "\u2013": "-",
    "\u2014": "-",
    "\u2018": "'",
    "\u2019": "'",
    "\u201c": '"',
    "\u201d": '"',
    "[": "(",
    "]": ")",
    "~": "-",
    "«": '"',
    "»": '"',
    "œ": "oe",
    "Œ": "OE",
}


_LATIN: Final = frozenset(c for c in map(chr, range(0xC0, 0x100)) if c.isalpha())
"""Letters that every mail reader and webhook can show."""


def basic(text: str) -> str:
    """Return the text in the basic alphabet: accents drop where they must, what is left over becomes "?"."""
    return _characters(" ".join(text.split()))


def _characters(text: str) -> str:
    return "".join(map(_basic, text))


def _basic(character: str) -> str:
    if character in BASIC:
        return character
    if character in _SAID:
        return _SAID[character]
    plain = "".join(c for c in unicodedata.normalize("NFKD", character) if c in BASIC)
    return plain or "?"


def latin_line(text: str) -> str:
    """Return the text as one line of ASCII and the letters of Latin-1: nothing that hides, turns or breaks."""
    return "".join(map(_latin, " ".join(text.split())))


def _latin(character: str) -> str:
    if " " <= character <= "~" or character in _LATIN:
        return character
    if character in _SAID:
        return _SAID[character]
    spelt = unicodedata.normalize("NFKD", character)
    return "".join(c if " " <= c <= "~" else "?" for c in spelt if not unicodedata.combining(c))


def shortened(name: str, room: int) -> str:
    """Return a name within `room` characters: its head and its tail, where names differ."""
    if len(name) <= room:
        return name
    head = (room - 1) // 2
    return f"{name[:head]}..{name[len(name) - (room - 2 - head) :]}"


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of a short text, in wordings from long to short, of which the last always stands."""

    wordings: tuple[str, ...]
    rank: int = 0
    """Lower ranks get their longer wordings first; those of one rank grow evenly."""


def named(name: str, rank: int = 0) -> Part:
    """Return a name as a part: as long as there is room for, but not below 6 characters."""
    plain = shortened(basic(name), _LONGEST_NAME)
    return Part(tuple(shortened(plain, size) for size in range(max(len(plain), _LEAST), _LEAST - 1, -1)), rank)


def short_text(parts: Sequence[Part]) -> str:
    """Return the parts in order, each in the longest wording that fits, within 140 characters.

    Every part stands, if only in its shortest wording. Facts that are longer than any part allows for are cut at the
    end: parts stand in such an order that no cut turns a text round or hides what limits it.
    """
    wordings = [tuple(map(_characters, p.wordings)) for p in parts]
    at = [len(w) - 1 for w in wordings]
    room = LONGEST - sum(len(w[-1]) for w in wordings)
    for rank in sorted({p.rank for p in parts}):
        growing = {i for i, p in enumerate(parts) if p.rank == rank and at[i] > 0}
        while growing:
            i = min(growing, key=lambda i: (len(wordings[i][at[i]]), i))
            more = len(wordings[i][at[i] - 1]) - len(wordings[i][at[i]])
            if more <= room:
                at[i], room = at[i] - 1, room - more
            else:
                growing.discard(i)
            if at[i] == 0:
                growing.discard(i)
    return "".join(w[n] for w, n in zip(wordings, at, strict=True))[:LONGEST]
