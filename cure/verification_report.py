"""How each mix's calibration stands by later cylinders, for people: lines, JSON, a page to file. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from html import escape
from typing import Any, Final

from cure.batch import Batch
from cure.cautions import OF_A_CURVE
from cure.dashboard.svgchart import svgchart
from cure.own_cylinders import batches_of, own_lines, tenth_line
from cure.report_parts import STYLE, bullets, signatures, table
from cure.verification import (
    APPLIED,
    CYLINDERS,
    DRIFT,
    LOW,
    TOO_HIGH,
    TOO_LOW,
    BreakSet,
    break_sets,
    running_sum,
    verified,
)
from cure.verification_chart import chart
from shared import units
from shared.models.base import THE_SITE, Json, Ms, PourId
from shared.ports import BoardBook, MixRow
from shared.shifts import day_of, site_hour

RULES: Final = (
    f"Two or more cylinders of one pour within 12 h, each with its own temperature record, are a set. Below "
    f"{100 * APPLIED:.0f} % a set lowers the curve by its own ratio, until two sets on end are near it again; below "
    f"{100 * TOO_LOW:.0f} %, or two on end below {100 * LOW:.0f} %, it suspends this version. Above "
    f"{100 * TOO_HIGH:.0f} % nothing is raised: it is asked whether this is the mix. The running sum adds what each "
    f"set falls short of 97.5 %; below {100 * DRIFT:.0f} % the mix drifts, though no set may be low."
)
NOTHING_RELEASED: Final = "This page releases nothing. The ratio is of strength found over the strength of the curve."
SIGNED_BY: Final = ("Quality control", "Engineer of record")
NO_SET: Final = "no set of cylinders yet"


@dataclass(frozen=True, slots=True)
class SetRow:
    """One set of cylinders, in the order of testing."""

    number: int
    pour: PourId
    tested_ms: Ms
    cylinders: int
    ratio: float
    running_sum: float

    @property
    def says(self) -> str:
        """What it says of the curve."""
        # Not the other way round: what is no number passes nothing.
        steps = (
            (not self.ratio >= TOO_LOW, "suspends the calibration"),
            (not self.ratio >= LOW, "low: lowers the curve; two on end suspend it"),
            (not self.ratio >= APPLIED, "lowers the curve"),
            (not self.ratio <= TOO_HIGH, "strong: is this the mix?"),
        )
        return next((words for found, words in steps if found), "near the curve")


@dataclass(frozen=True, slots=True)
class Verification:
    """One version of a mix's calibration and what later cylinders make of it."""

    mix: str
    version: int
    in_force: bool
    made_on: str
    fit_for: str
    valid_until: date | None
    ended: bool
    """Whether a pour that begins today is not judged by it any more."""
    sets: tuple[SetRow, ...]
    ratio: float
    """By which the curve is lowered for a pour without cylinders of its own."""
    own: Mapping[PourId, float]
    """Open pours for which their own cylinders lower it further."""
    suspended: str | None
    outside: int
    """Cylinders outside the tested range, which say nothing..."""
    alone: int
    """... and cylinders that are no set."""
    tested_h: tuple[float, float]
    batches: Mapping[PourId, Batch]
    """What the own cylinders of open pours say of their batches."""
    own_rule: bool
    """Whether they count for it beyond the sets."""
    scatter: str | None
    """What the scatter of the sets says of the spread that the bound has for a batch."""

    @property
    def drifting(self) -> bool:
        """Whether the running sum is beyond its limit now."""
        return bool(self.sets) and not self.sets[-1].running_sum >= DRIFT

    @property
    def name(self) -> str:
        """Mix and version."""
        return f"{self.mix}, version {self.version}"

    def validity(self) -> str:
        """Return for which pours it stands."""
        until = "until there is a new version"
        if self.valid_until is not None:
            until = f"for pours through {self.valid_until.isoformat()}" + (", which is over" if self.ended else "")
        force = "in force" if self.in_force else "only for open pours, which keep it"
        return f"{force}, {until}; fit for {self.fit_for}"

    def counts_for(self) -> str:
        """Return what the curve counts for now."""
        if self.suspended is not None:
            return f"SUSPENDED, nothing is judged by it any more: {self.suspended}"
        own = "".join(f"; {percent(ratio)} for {pour}, by its own cylinders" for pour, ratio in self.own.items())
        return f"the curve counts for {percent(self.ratio)}{own}"

    def drift(self) -> str:
        """Return how the running sum stands."""
        if not self.sets:
            return NO_SET
        last, limit = percent(self.sets[-1].running_sum), percent(DRIFT, limit=True)
        return f"running sum {last}, limit {limit}: " + ("DRIFTING" if self.drifting else "no drift")

    def idle(self) -> list[str]:
        """Return which cylinders say nothing, and why."""
        said = []
        if self.outside:
            low, high = self.tested_h
            said.append(f"{self.outside} outside the tested {low:g} to {high:g} h of equivalent age")
        if self.alone:
            said.append(f"{self.alone} in sets of fewer than {CYLINDERS}")
        return said

    def batch_lines(self) -> list[str]:
        """Return what cylinders say of batches: the scatter of the sets, then each pour with cylinders of its own."""
        return [*filter(None, [self.scatter]), *own_lines(self.batches, rule=self.own_rule)]

    def to_json(self) -> dict[str, Json]:
        """Return it as a JSON object; what is no number is null."""
        whole = {
            **asdict(self),
            "valid_until": None if self.valid_until is None else self.valid_until.isoformat(),
            "sets": [{**asdict(s), "says": s.says} for s in self.sets],
            "drifting": self.drifting,
            "limits": {
                "too_low": TOO_LOW,
                "low": LOW,
                "applied": APPLIED,
                "too_high": TOO_HIGH,
                "running_sum": DRIFT,
            },
        }
        found: dict[str, Json] = _known(whole)
        return found


def _known(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: _known(inner) for key, inner in value.items()}
    return [_known(inner) for inner in value] if isinstance(value, list | tuple) else value


def percent(ratio: float, *, limit: bool = False) -> str:
    """Return a ratio in percent, as units are shown."""
    return units.shown(100.0 * ratio, "%", limit=limit)


def verification_of(row: MixRow, today: date) -> Verification:
    """Return how a version of a calibration stands on a day."""
    calibration, tests = row.calibration, row.tests
    sets, stands = break_sets(calibration, tests), verified(calibration, tests, THE_SITE)
    low, high = calibration.tested_from_h, calibration.tested_to_h
    within = sum(low <= t.equivalent_age_h <= high for t in tests)
    still_open = [p.pour.id for p in row.pours if p.pour.closed_ms is None]
    each = {pour: verified(calibration, tests, pour).ratio for pour in still_open}
    until = calibration.valid_until
    return Verification(
        mix=calibration.mix,
        version=calibration.version,
        in_force=row.in_force,
        made_on=calibration.made_on,
        fit_for=calibration.fit_for,
        valid_until=until,
        ended=until is not None and today > until,
        sets=_rows(sets),
        ratio=stands.ratio,
        own={pour: ratio for pour, ratio in each.items() if ratio != stands.ratio},
        suspended=stands.suspended,
        outside=len(tests) - within,
        alone=within - sum(s.cylinders for s in sets),
        tested_h=(low, high),
        batches=batches_of(row),
        own_rule=calibration.own_cylinders is not None,
        scatter=tenth_line(calibration, [s.ratio for s in sets]),
    )


def _rows(sets: Sequence[BreakSet]) -> tuple[SetRow, ...]:
    sums = running_sum(sets)
    return tuple(
        SetRow(n, s.pour, s.tested_ms, s.cylinders, s.ratio, total)
        for n, (s, total) in enumerate(zip(sets, sums, strict=True), 1)
    )


def verifications(book: BoardBook, now_ms: Ms) -> tuple[Verification, ...]:
    """Return how each version of a calibration stands that is in force or judges an open pour."""
    today = day_of(now_ms, book.site().site.zone)
    return tuple(verification_of(row, today) for row in book.mixes())


def lines(found: Sequence[Verification], zone: str) -> list[str]:
    """Return them as text, hours in site time."""
    said = []
    for v in found:
        said += [f"{v.name}, made on {v.made_on}: {v.validity()}", f"    {v.counts_for()}"]
        said += [
            f"    set {s.number}: pour {s.pour}, {site_hour(s.tested_ms, zone)}, {s.cylinders} cylinders, "
            f"{percent(s.ratio)} of the curve, {s.says}; running sum {percent(s.running_sum)}"
            for s in v.sets
        ]
        said += [f"    {words}" for words in (v.drift(), *v.batch_lines())]
        said += [f"    cylinders that say nothing: {words}" for words in v.idle()]
    return [*said, "", RULES]


def _block(v: Verification, zone: str) -> str:
    sets = [
        (str(s.number), s.pour, site_hour(s.tested_ms, zone), str(s.cylinders), percent(s.ratio),
         percent(s.running_sum), s.says)
        for s in v.sets
    ]  # fmt: skip
    head = ("set", "pour", "tested", "cylinders", "of the curve", "running sum", "what it says")
    return "\n".join((
        f"<h2>Mix {escape(v.name)}</h2>",
        f'<p class="verdict">{escape(v.counts_for())}</p>',
        f"<p>Calibration made on {escape(v.made_on)}: {escape(v.validity())}.</p>",
        f"<p>{escape(v.drift())}</p>",
        svgchart(chart(v.name, [s.ratio for s in v.sets], [s.running_sum for s in v.sets])),
        table(head, sets),
        "<h3>Batches</h3>",
        bullets(v.batch_lines(), "no pour has cylinders of its own, and fewer than three sets tell no scatter"),
        "<h3>Cylinders that say nothing</h3>",
        bullets(v.idle(), "none"),
    ))  # fmt: skip


def page(found: Sequence[Verification], site: str, zone: str, now_ms: Ms) -> str:
    """Return the page to file: every mix with its chart, and what the limits mean."""
    title = f"Verification of calibrations, {site}"
    parts = (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(title)}</title><style>{STYLE}</style>',
        f"<h1>{escape(title)} <small>{escape(site_hour(now_ms, zone))}</small></h1>",
        f"<p>{escape(OF_A_CURVE)}</p><p>{escape(NOTHING_RELEASED)}</p><p>{escape(RULES)}</p>",
        *(_block(v, zone) for v in found),
        "<h2>Signatures</h2>",
        signatures(SIGNED_BY),
        "</html>",
    )
    return "\n".join(parts) + "\n"
