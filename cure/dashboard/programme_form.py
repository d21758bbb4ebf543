"""A laboratory's programme as a form has it, and what is kept of it for whoever comes back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.beside import Programme
from cure.dashboard.mix_pages import number_of, numbers_of
from shared.errors import ActRefusedError
from shared.models.base import Ms

OF_ORIGIN: Final = ("dose_class", "supplier", "laboratory", "made_on", "valid_until")
RULES: Final = ("narrow_to_percent", "narrow_from", "batch_sd_percent")
"""Numbers of how a pour's own cylinders count."""
LONG_TEXTS: Final = ("breaks", "temperatures", "cubes")
TYPED: Final = (*LONG_TEXTS, "lab_c", *OF_ORIGIN, "threshold_mpa", "own_cylinders", *RULES)
"""Fields of the form that make a programme."""
LONGEST: Final = 150
_KEPT: Final = "kept_ms"


@dataclass(frozen=True, slots=True)
class Draft:
    """What stands in the form, and since when it is kept."""

    typed: dict[str, str]
    kept_ms: Ms | None = None


def typed_of(asked: Asked) -> dict[str, str]:
    """Return every field of the form; "": it is empty."""
    return {name: asked.one(name) for name in TYPED}


def programme_of(asked: Asked, mix: str, version: int) -> Programme:
    """Return what was typed. Raises `ActRefusedError` when something is missing that a file must say."""
    given = {name: asked.one(name) for name in OF_ORIGIN}
    missing = [name for name in OF_ORIGIN[:4] if not given[name]]
    if missing or not asked.one("breaks"):
        raise ActRefusedError(asked.reader.say("calibrate-missing"))
    if any(len(text) > LONGEST or not text.isprintable() for text in given.values()):
        raise ActRefusedError(asked.reader.say("calibrate-lines", longest=LONGEST))
    return Programme(
        mix,
        asked.one("breaks"),
        asked.one("temperatures"),
        number_of(asked, "lab_c"),
        version=version,
        cubes=asked.one("cubes"),
        own_cylinders=bool(asked.one("own_cylinders")),
        narrow_to_percent=number_of(asked, "narrow_to_percent"),
        narrow_from=number_of(asked, "narrow_from"),
        batch_sd_percent=number_of(asked, "batch_sd_percent"),
        thresholds_mpa=numbers_of(asked, "threshold_mpa"),
        **given,
    )


def _name(asked: Asked, mix: str) -> str:
    return f"calibrate {mix} {asked.visitor.person}"


def draft_of(parts: Parts, asked: Asked, mix: str) -> Draft:
    """Return what whoever asks has kept for a mix; empty fields when there is nothing. Raises `StoreError`."""
    held = parts.drafts.read(_name(asked, mix)) or {}
    kept = held.get(_KEPT, "")
    return Draft({name: held.get(name, "") for name in TYPED}, int(kept) if kept.isdecimal() else None)


def keep_draft(parts: Parts, asked: Asked, mix: str) -> Draft:
    """Keep what was typed, for whoever asks alone. Raises `StoreError`."""
    typed = typed_of(asked)
    parts.drafts.keep(_name(asked, mix), {**typed, _KEPT: str(asked.now)})
    return Draft(typed, asked.now)


def drop_draft(parts: Parts, asked: Asked, mix: str) -> None:
    """Throw away what whoever asks has kept. Raises `StoreError`."""
    parts.drafts.drop(_name(asked, mix))
