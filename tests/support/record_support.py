"""Records of stories told in memory, and what Debian's tools say of a PDF."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Final

import pytest
from cure_support import END_MS, Story, make_case, series, site_of_all

from cure.dashboard.pour_view import viewed
from cure.dashboard.record_facts import Source
from shared.models.base import STRIP
from shared.models.messages import Message, MessageKind, NewMessage
from shared.models.setup import SiteFile

TOOLS: Final = ("qpdf", "pdftotext", "pdfdetach", "pdffonts", "pdfinfo")
needs_tools: Final = pytest.mark.skipif(
    any(shutil.which(tool) is None for tool in TOOLS), reason="Debian's qpdf and poppler-utils are not installed"
)
CAUTIONS: Final = ("No added load; once stripped the slab carries itself on bare joists.", "The engineer governs.")
HASH: Final = "3f" * 32


def asked(*words: str | Path) -> str:
    """Return what a tool prints; one that complains fails."""
    ran = subprocess.run([*map(str, words)], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout


def text_of(pdf: bytes, folder: Path) -> str:
    """Return the words of a PDF, each stretch of blanks and lines as one blank."""
    path = folder / "record.pdf"
    path.write_bytes(pdf)
    return " ".join(asked("pdftotext", "-layout", path, "-").split())


@cache
def _story(site_json: str) -> Story:
    return Story(make_case(SiteFile.model_validate_json(site_json))).run(26)


def story(site: SiteFile | None = None) -> Story:
    """Return a warm pour, 26 h after its end, whose strip and walk wait for a signature."""
    of = site_of_all() if site is None else site
    return _story(of.model_dump_json(exclude_none=True)).copy()


def source_of(told: Story, message: NewMessage, address: str | None = "http://slab.example:8000") -> Source:
    """Return what the record of a story's message is made of."""
    evidence = {digest: body for result in told.results for digest, body in result.snapshots.items()}
    stored = Message(
        42, message.kind, message.pour, message.subject, message.epoch, message.at_ms, None, message.facts, 17, HASH
    )
    readings = {
        sensor: series([t for t, _ in rows if t <= message.at_ms], [c for t, c in rows if t <= message.at_ms])
        for sensor, rows in told.readings.items()
    }
    view = viewed(told.case, readings, message.at_ms, elapsed_ms=message.at_ms - END_MS)
    digest = message.facts.get("snapshot")
    return Source(stored, view, None if digest is None else evidence[digest], CAUTIONS, address)


def told_last(told: Story, kind: MessageKind, subject: str = STRIP) -> NewMessage:
    """Return the newest message of a kind about a gate."""
    return [m for m in told.messages if m.kind is kind and m.subject == subject][-1]


def released(site: SiteFile | None = None) -> Source:
    """Return the release of strip."""
    told = story(site)
    told.press("sign", operations=["strip"])
    return source_of(told, told_last(told, MessageKind.RELEASED))


def withdrawn() -> Source:
    """Return the withdrawal of strip after somebody pressed STOP."""
    told = story()
    told.press("sign", operations=["strip"])
    told.press("stop", "crew", why="crack at grid 7")
    return source_of(told, told_last(told, MessageKind.WITHDRAWAL))


def held() -> Source:
    """Return the hold of a pour with two values for one hour of a sensor."""
    told = story()
    sensor = next(iter(told.readings))
    told.conflict(sensor, told.readings[sensor][-1][0], 18.0, 12.0)
    told.round()
    return source_of(told, told_last(told, MessageKind.HOLD, ""))


def with_fact(source: Source, **facts: object) -> Source:
    """Return a record with other facts."""
    return replace(source, message=replace(source.message, facts={**source.message.facts, **facts}))


KINDS: Final = {"release": released, "withdrawal": withdrawn, "hold": held}
