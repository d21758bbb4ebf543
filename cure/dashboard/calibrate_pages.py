"""Calibrating a mix in five steps on one page: breaks, temperatures, fit, compare with what is in force, put in force.

The fit is done beside the pages, by the same code as `slabhour calibrate`; what it would change stands before the
press.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from markupsafe import Markup
from pydantic import ValidationError
from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.beside import CubesJudged, Judgement, Programme
from cure.dashboard.calibration_chart import Calibrated, Cylinder, Drawn, calibrated, calibration_chart
from cure.dashboard.changes import Changed, Reach, changed, reaches
from cure.dashboard.chart_words import WORDS
from cure.dashboard.faults import faults_said, text_fault_said
from cure.dashboard.fit_words import cubes_said, numbers_said
from cure.dashboard.mix_pages import drawn, one_mix
from cure.dashboard.people_pages import prove
from cure.dashboard.programme_form import (
    LONG_TEXTS,
    Draft,
    draft_of,
    drop_draft,
    keep_draft,
    programme_of,
    typed_of,
)
from cure.dashboard.rates_chart import rates_chart
from cure.dashboard.rendering import page, problem
from shared.errors import ActRefusedError, SetupError, StoreError
from shared.models.acts import PutInForce, instant
from shared.models.setup import MixSettings
from shared.ports import MixRow

VERDICTS: Final = {
    "fit for release": ("tick", "verdict-release"),
    "fit for planning only": ("clock", "verdict-planning"),
    "refused": ("octagon", "verdict-refused"),
}
"""Shape and words of each."""
KEEP: Final = "keep"
DROP: Final = "drop"
"""What else a press may ask for: keep what is typed, or throw away what is kept."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """Steps 3 to 5 of the page."""

    judgement: Judgement
    shape: str
    verdict: str
    charts: tuple[Markup, ...]
    numbers: tuple[str, ...]
    cubes: tuple[str, ...]
    rates: Markup
    """The chart of their rate constants; empty: there is no line through them."""
    reaches: tuple[tuple[str, str, str, str], ...]
    """Strength, hours before, hours after, and which of them is later."""
    pours: tuple[str, ...]
    """What becomes of each unfinished pour."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/mix/{mix}/calibrate"): lambda asked: _form(parts, asked, draft_of(parts, asked, asked.path["mix"])),
        ("POST", "/mix/{mix}/calibrate"): lambda asked: _typed(parts, asked),
        ("POST", "/mix/{mix}/put-in-force"): lambda asked: _put_in_force(parts, asked),
    }


def _mix(asked: Asked) -> MixSettings | None:
    return next((m for m in asked.site.mix if m.id == asked.path["mix"]), None)


def _in_force(parts: Parts, mix: str) -> MixRow | None:
    return next((row for row in parts.board.mixes() if row.mix.id == mix and row.in_force), None)


def _form(
    parts: Parts, asked: Asked, draft: Draft, wrong: Sequence[str] = (), fitted: Fitted | None = None, done: str = ""
) -> Response:
    mix = _mix(asked)
    if mix is None:
        return problem(asked, "no-mix", status=404)
    now = _in_force(parts, mix.id)
    return page(
        asked,
        "calibrate.html",
        status=422 if wrong else 200,
        mix=mix,
        now=None if now is None else now.calibration,
        version=parts.board.newest_version(mix.id) + 1,
        typed=draft.typed,
        kept="" if draft.kept_ms is None else asked.reader.hour(draft.kept_ms, asked.now),
        long_texts=LONG_TEXTS,
        fitted=fitted,
        second=asked.one("second_person"),
        reason=asked.one("why"),
        wrong=list(wrong),
        done=done,
    )


def _programme(parts: Parts, asked: Asked, mix: MixSettings) -> Programme:
    return programme_of(asked, mix.id, parts.board.newest_version(mix.id) + 1)


def _kept(parts: Parts, asked: Asked, mix: MixSettings) -> tuple[Draft, list[str]]:
    """Keep what was typed; return it, and why it could not be kept."""
    try:
        return keep_draft(parts, asked, mix.id), []
    except StoreError as error:
        return Draft(typed_of(asked)), [asked.reader.known(str(error))]


def _typed(parts: Parts, asked: Asked) -> Response:
    """Fit what was typed, keep it, or throw away what is kept."""
    mix = _mix(asked)
    if mix is None:
        return problem(asked, "no-mix", status=404)
    if asked.one("do") == DROP:
        drop_draft(parts, asked, mix.id)
        return _form(parts, asked, draft_of(parts, asked, mix.id), done=asked.reader.say("draft-dropped"))
    draft, wrong = _kept(parts, asked, mix)
    if asked.one("do") == KEEP:
        return _form(parts, asked, draft, wrong, done="" if wrong else asked.reader.say("draft-kept"))
    try:
        judgement = parts.beside.judge(_programme(parts, asked, mix))
    except ActRefusedError as error:
        return _form(parts, asked, draft, [str(error), *wrong])
    except SetupError as error:
        return _form(parts, asked, draft, [*_read_wrong(asked, error), *wrong])
    return _form(parts, asked, draft, wrong, _fitted(parts, asked, mix, judgement))


def _read_wrong(asked: Asked, error: SetupError) -> list[str]:
    return [text_fault_said(fault, asked.reader) for fault in error.faults]


def _put_in_force(parts: Parts, asked: Asked) -> Response:
    """Fit once more what was typed, and put that in force if it is what was seen."""
    mix = _mix(asked)
    if mix is None:
        return problem(asked, "no-mix", status=404)
    draft = Draft(typed_of(asked))
    try:
        judgement = parts.beside.judge(_programme(parts, asked, mix))
    except ActRefusedError as error:
        return _form(parts, asked, draft, [str(error)])
    except SetupError as error:
        return _form(parts, asked, draft, _read_wrong(asked, error))
    shown = _fitted(parts, asked, mix, judgement)
    try:
        act = _act(asked, judgement)
        prove(parts, asked)
        parts.apply(act)
    except ActRefusedError as error:
        return _form(parts, asked, draft, [asked.reader.known(str(error))], shown)
    drop_draft(parts, asked, mix.id)
    return one_mix(parts, asked, done=asked.reader.say("put-in-force-done", version=str(act.calibration.version)))


def _act(asked: Asked, judgement: Judgement) -> PutInForce:
    """Return the act of the form. Raises `ActRefusedError` unless it is what was seen, with a second person."""
    made, second, why = judgement.calibration, asked.one("second_person"), asked.one("why")
    if made is None or made.digest != asked.one("digest"):
        raise ActRefusedError(asked.reader.say("calibrate-moved"))
    if not why or not second:
        raise ActRefusedError(asked.reader.say("calibrate-second"))
    at, who = instant(asked.now), str(asked.visitor.person)
    try:
        return PutInForce(at=at, who=who, calibration=made, second_person=second, why=why)
    except ValidationError as error:
        raise ActRefusedError(faults_said(error, asked.reader)) from error


def _fitted(parts: Parts, asked: Asked, mix: MixSettings, judgement: Judgement) -> Fitted:
    shape, key = VERDICTS[judgement.verdict]
    now, new = _in_force(parts, mix.id), judgement.calibration
    moves: tuple[Reach, ...] = () if new is None else reaches(judgement.thresholds_mpa, now, new, mix)
    pours = () if new is None else changed(parts.board.board(), mix.id)
    return Fitted(
        judgement,
        shape,
        asked.reader.say(key),
        (_chart(asked, now, judgement),),
        numbers_said(judgement, asked.reader),
        cubes_said(judgement.cubes, asked.reader),
        _rates(asked, judgement.cubes),
        tuple(_reach(asked, reach) for reach in moves),
        tuple(_pour(asked, pour) for pour in pours),
    )


def _chart(asked: Asked, now: MixRow | None, judgement: Judgement) -> Markup:
    words, new = WORDS[asked.reader.language], judgement.calibration
    if new is None:
        cylinders = tuple(
            Cylinder(f"{name}: {asked.reader.number(mpa, 'MPa')}", age, mpa, stranger=name in judgement.outliers)
            for name, age, mpa in judgement.cylinders
        )
        view = Calibrated(cylinders, (), judgement.thresholds_mpa, None, "MPa")
    else:
        tested = tuple((f"{n}: {asked.reader.number(mpa, 'MPa')}", age, mpa) for n, age, mpa in judgement.cylinders)
        view = calibrated(new, tested, required_mpa=judgement.thresholds_mpa)
        curves = [_named(view, asked, new.version)]
        if now is not None:
            curves.append(_named(calibrated(now.calibration), asked, now.calibration.version))
        view = Calibrated(view.cylinders, tuple(curves), view.required_mpa, view.tested_h)
    return drawn(calibration_chart(view, first=asked.reader.first, words=words, key=f"fit-{asked.path['mix']}"))


def _rates(asked: Asked, cubes: CubesJudged | None) -> Markup:
    if cubes is None or cubes.energy_kj_per_mol is None or cubes.ln_k_at_zero is None:
        return Markup("")
    read = asked.reader
    line, key = (1000.0 * cubes.energy_kj_per_mol, cubes.ln_k_at_zero), f"cubes-{asked.path['mix']}"
    return drawn(rates_chart(cubes.rates, *line, first=read.first, words=WORDS[read.language], key=key))


def _named(view: Calibrated, asked: Asked, version: int) -> Drawn:
    """Return the curve of a calibration under the name of its version."""
    return replace(view.curves[0], name=asked.reader.say("version-name", version=str(version)))


def _reach(asked: Asked, reach: Reach) -> tuple[str, str, str, str]:
    say = asked.reader.say
    before = say("reach-none") if reach.before_h is None else _hours(asked, reach.before_h)
    key = "reach-first"
    if reach.before_h is not None:
        later, same = reach.after_h > reach.before_h, reach.after_h == reach.before_h
        key = "reach-same" if same else "reach-later" if later else "reach-earlier"
    return asked.reader.number(reach.mpa, "MPa", limit=True), before, _hours(asked, reach.after_h), say(key)


def _hours(asked: Asked, hours: float) -> str:
    return asked.reader.number(hours, "h", limit=True) if math.isfinite(hours) else asked.reader.say("reach-never")


def _pour(asked: Asked, pour: Changed) -> str:
    key = "change-moves" if pour.keeps is None else "change-keeps"
    return asked.reader.say(key, bay=pour.bay, pour=pour.pour, version=str(pour.keeps))
