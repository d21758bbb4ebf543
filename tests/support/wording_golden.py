"""How every text reads, written down to be looked through and accepted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from alerts_support import FACTS
from wording_support import CHART, WITHOUT_OPERATION, every, longest, subjects, told

from alerts.wording import words, words_together
from shared.catalogue import LANGUAGES
from shared.models.base import HOUR_MS
from shared.models.messages import PERMITS, Message, MessageKind

FOLDER = Path(__file__).parents[1] / "alerts" / "references"
NIGHTS = {"2026-03-08": 1_772_949_600_000, "2026-11-01": 1_793_511_000_000}
"""America/Halifax: 03:00 right after 01:59, and the second 01:30."""


def golden() -> dict[str, str]:
    """Return the text of each file of references, by name."""
    files: dict[str, str] = {}
    for language in LANGUAGES:
        parts = [*(_reads(*one, language) for one in every()), *_nights(language), *_together(language)]
        files[f"words.{language}.txt"] = "\n".join(parts)
        files[f"words.{language}.html"] = "".join(_html(kind, language) for kind in MessageKind)
    return files


def write() -> None:
    """Write them down as they read now."""
    for name, text in golden().items():
        (FOLDER / name).write_text(text, encoding="utf-8")


def _facts(kind: MessageKind, subject: str) -> dict[str, Any]:
    """Return facts that belong together, as cure would write them."""
    met = kind in PERMITS or kind is MessageKind.KEEP_OFF
    found = ["counted hours: 24.2 h, needs 24.0 h - met"] if met else ["counted hours: 22.5 h, needs 24.0 h - not met"]
    released = (subject,) if kind in {MessageKind.RELEASED, MessageKind.KEEP_OFF} else ()
    causes = {MessageKind.KEEP_OFF: "stripping is under way below", MessageKind.WITHDRAWAL: found[0]}
    return {
        "not_released": [o for o in ("strip", "walk", "load") if o not in released],
        "findings": [] if kind in WITHOUT_OPERATION else found,
        "cause": causes.get(kind, "concrete below the limit: 3.5 h so far"),
        "sign_command": f"slabhour sign --who YOU {FACTS['pour']} {subject}",
    }


def _reads(kind: MessageKind, subject: str, done: bool, language: str) -> str:
    facts = _facts(kind, subject)
    plain = words(told(kind, subject, done=done, **facts), repeat=False, language=language)
    long = told(kind, subject, done=done, no=9_999_999, **{**facts, **longest(kind)})
    longer = words(long, repeat=True, language=language)
    us = words(told(kind, subject, done=done, **{**facts, "units": "US"}), repeat=False, language=language)
    about = ", ".join(filter(None, (kind, subject, "done" if done else "")))
    short = f"short:   {plain.short}\nlongest: {longer.short}\nUS:      {us.short}"
    return f"{_title(about)}\n{short}\nsubject: {plain.subject}\nlongest: {longer.subject}\n\n{plain.body}"


def _title(about: str) -> str:
    return f"=== {about} " + "=" * (110 - len(about))


def _nights(language: str) -> list[str]:
    parts = []
    for night, ms in NIGHTS.items():
        permit = replace(told(MessageKind.RELEASED, "strip", hour_ms=ms - HOUR_MS, units="US"), valid_until_ms=ms)
        delay = told(MessageKind.COLD_DELAY, "strip", hour_ms=ms - HOUR_MS, expected_ms=ms)
        for message in (permit, delay):
            text = words(message, repeat=False, language=language)
            parts.append(f"{_title(f'{message.kind}, {night}')}\nshort:   {text.short}\n\n{text.body}")
    return parts


def several() -> list[Message]:
    """Return releases of one operation for three bays, one of them with exclusions."""
    return [
        told(
            MessageKind.RELEASED,
            "strip",
            no=41 + n,
            bay=f"2-b{n + 1}",
            pour=f"2-b{n + 1}-p1",
            exclusions="none" if n else "grid 7 edge",
            chart=CHART,
        )
        for n in range(3)
    ]


def _together(language: str) -> list[str]:
    text = words_together(several(), repeat=False, language=language)
    title = _title("released, three bays together")
    return [f"{title}\nshort:   {text.short}\nsubject: {text.subject}\n\n{text.body}"]


def _html(kind: MessageKind, language: str) -> str:
    subject = subjects(kind)[0]
    return str(words(told(kind, subject, **_facts(kind, subject)), repeat=False, language=language).html)
