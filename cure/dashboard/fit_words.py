"""What came of a laboratory's programme, line by line, in the reader's language."""

from __future__ import annotations

from typing import Final

from cure.bound import batch_sd_ratio
from cure.dashboard.beside import CubesJudged, Judgement
from cure.dashboard.reader import Reader
from cure.verification_report import percent
from shared.models.calibration import Calibration

HOLDS: Final = {"fit for release": "cubes-hold", "fit for planning only": "cubes-plan", "refused": "cubes-refused"}
"""Words of each verdict of cubes."""


def numbers_said(judgement: Judgement, reader: Reader) -> tuple[str, ...]:
    """Return what was fitted: parameters, their standard errors, range, degrees of freedom; how batches count."""
    new = judgement.calibration
    if new is None:
        return ()
    told = new.parameters.model_dump()
    fitted = [f"{name} {value:.4g} ± {new.covariance[n][n] ** 0.5:.2g}" for n, (name, value) in enumerate(told.items())]
    low, high = (reader.number(h, "h") for h in (new.tested_from_h, new.tested_to_h))
    return (
        f"{reader.voice.known(new.curve)}: {', '.join(fitted)}",
        reader.say("fit-range", low=low, high=high),
        reader.say("fit-freedom", count=str(new.degrees_of_freedom)),
        reader.say("version-until", day="" if new.valid_until is None else new.valid_until.isoformat()),
        f"{reader.say('rule-spread', sd=percent(batch_sd_ratio(new)))} {rule_said(new, reader)}",
    )


def rule_said(calibration: Calibration, reader: Reader) -> str:
    """Return how a pour's own cylinders count."""
    rule = calibration.own_cylinders
    if rule is None:
        return reader.say("rule-none")
    if rule.narrow_to_percent is None:
        return reader.say("rule-lowers")
    least = percent(rule.narrow_to_percent / 100.0)
    return reader.say("rule-narrows", count=str(rule.narrow_from), least=least)


def cubes_said(cubes: CubesJudged | None, reader: Reader) -> tuple[str, ...]:
    """Return what became of mortar cubes, and whether their energy counts; none: there were none."""
    if cubes is None:
        return ()
    found = reader.say("cubes-none")
    if cubes.energy_kj_per_mol is not None:
        low, high = (reader.number(c, "degC") for c in cubes.tested_c)
        energy, sd = f"{cubes.energy_kj_per_mol:.1f}", f"{cubes.sd_kj_per_mol:.1f}"
        found = reader.say("cubes-energy", energy=energy, sd=sd, low=low, high=high)
    lines = [f"{reader.say('cubes-number', count=str(cubes.number))} {found}", reader.say(HOLDS[cubes.verdict])]
    for rate in cubes.rates:
        at, k, known = reader.number(rate.celsius, "degC"), f"{rate.k_per_d:.3g}", f"{100.0 * rate.ln_k_sd:.0f}"
        lines.append(reader.say("cubes-rate", at=at, k=k, percent=known))
    if cubes.datum_c is not None:
        lines.append(reader.say("cubes-datum", datum=reader.number(cubes.datum_c, "degC")))
    return (*lines, *(reader.voice.known(said) for said in cubes.reasons))
