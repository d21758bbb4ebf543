"""Short texts: the GSM 7-bit basic alphabet, 140 characters, nothing cut that changes the meaning."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import Final

BASIC: Final = frozenset(
    "@£$¥èéùìòÇØøÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿"
    "abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""One septet each (3GPP TS 23.038, default alphabet), without its two line ends and its escape."""
LONGEST: Final = 140
_LEAST: Final = 6
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
}


def basic(text: str) -> str:
    """Return the text in the basic alphabet: accents drop where they must, what is left over becomes "?"."""
    return "".join(_basic(c) for c in " ".join(text.split()))


def _basic(character: str) -> str:
    if character in BASIC:
        return character
    if character in _SAID:
        return _SAID[character]
    plain = "".join(c for c in unicodedata.normalize("NFKD", character) if c in BASIC)
    return plain or "?"


def ascii_line(text: str) -> str:
    """Return the text as one line of printable ASCII."""
    plain = (_SAID.get(c, c) for c in " ".join(text.split()))
    spelt = unicodedata.normalize("NFKD", "".join(plain))
    kept = (c if " " <= c <= "~" else "?" for c in spelt if not unicodedata.combining(c))
    return "".join(kept)


def shortened(name: str, room: int) -> str:
    """Return a name within `room` characters: its head and its tail, where names differ."""
    if len(name) <= room:
        return name
    head = (room - 1) // 2
    return f"{name[:head]}..{name[len(name) - (room - 2 - head) :]}"


def fitted(names: Sequence[str], room: int) -> str:
    """Return the names with spaces between, the longest ones shortened until they fit, none below 6 characters."""
    sizes = [len(n) for n in names]
    while sum(sizes) + len(sizes) - 1 > room and max(sizes) > _LEAST:
        longest = sizes.index(max(sizes))
        sizes[longest] -= 1
    return " ".join(shortened(n, s) for n, s in zip(names, sizes, strict=True))


def short_text(lead: str, names: Sequence[str], trailer: str, endings: Sequence[Sequence[str]]) -> str:
    """Return lead, names, trailer and endings within 140 characters.

    Lead and trailer stay whole. Of each ending the first wording that fits whole is taken; for its last one the names
    are shortened, and it goes only when the shortest names leave no room. The lead carries the verdict with its
    negation, so that no cut turns it round.
    """
    lead = basic(lead) + ("" if lead.endswith(":") else ".")
    trailer = basic(trailer)
    choices = [[f". {basic(wording)}" if wording else "" for wording in ending] for ending in endings]
    chosen = [choice[-1] for choice in choices]
    room = LONGEST - len(lead) - len(trailer) - 2
    least = sum(min(len(n), _LEAST) for n in names) + len(names) - 1
    for place in reversed(range(len(chosen))):
        if sum(map(len, chosen)) > room - least:
            chosen[place] = ""
    start = f"{lead} {fitted([basic(n) for n in names], room - sum(map(len, chosen)))} {trailer}"
    for place, choice in enumerate(choices):
        left = LONGEST - len(start) - sum(map(len, chosen)) + len(chosen[place])
        chosen[place] = next((wording for wording in choice if len(wording) <= left), chosen[place])
    return start + "".join(chosen)
