"""A pour judged in memory: a case, its readings by sensor, and the results of rounds put back into the case."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cache
from typing import Any, Final

import numpy as np
from store_support import AIR, BAY, EDGE, END, INSIDE, POUR, T0, make_calibration, make_pour, make_site, site_dict

from cure.assess import assess
from cure.bay import BayEvidence, evidence
from cure.work import Standing
from shared.models.acts import PourAct, PourEnd, act_from, ms
from shared.models.base import HOUR_MS, LOAD, MINUTE_MS, STRIP, WALK, Ms, Operation, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import Gate, GateState, Placement, PourState
from shared.models.messages import MessageKind, NewMessage
from shared.models.people import Role
from shared.models.readings import Arrival, Conflict, Series
from shared.models.setup import SiteFile, Zone
from shared.ports import PourCase, Result

QUARTER_MS: Final = 15 * MINUTE_MS
END_MS: Final[Ms] = T0 + HOUR_MS
CONCRETE: Final = (EDGE, INSIDE, END)
DESK: Final = frozenset({Role.SUPERINTENDENT, Role.QC, Role.ENGINEER})
Profile = Callable[[float], float]
"""Hours since the end of the pour -> temperature. [degC]"""


def series(times_ms: list[Ms], temperatures_c: list[float]) -> Series:
    """Return a series of readings."""
    return Series(np.array(times_ms, np.int64), np.array([round(c * 1000) for c in temperatures_c], np.int64))


def make_case(site: SiteFile | None = None, calibration: Calibration | None = None, **changes: Any) -> PourCase:
    """Return the case of a pour whose last concrete was placed at END_MS."""
    site = make_site() if site is None else site
    bay = site.bay_named(BAY)
    placements = tuple(Placement(s.sensor_id, bay.bay_id, s.zone, s.depth_mm, 900, s.required) for s in bay.sensors)
    case = PourCase(
        pour=make_pour(end_ms=END_MS),
        bay=bay,
        mix=site.mix[0],
        site=site,
        calibration=make_calibration() if calibration is None else calibration,
        placements=placements,
        arrivals={},
        conflicts=(),
        gates={op: Gate(POUR, op) for op in (STRIP, WALK, LOAD)},
        holds=(),
        state=PourState(),
        stripping=(),
        withdrawal_confirmed={},
        input_revision=0,
        touched=0,
    )
    return replace(case, **changes)


def placed(sensor: str, zone: Zone, **changes: Any) -> Placement:
    """Return a required sensor of the bay, measuring every quarter of an hour."""
    return Placement(SensorId(sensor), BAY, zone, **{"depth_mm": 50, "interval_s": 900, "required": True, **changes})


def recorded(
    profile: Profile | float, hours: float, *, from_h: float = 0.0, but: tuple[float, float] = (0, 0)
) -> Series:
    """Return a reading each quarter of an hour from `from_h` through `hours`, but none strictly between two hours."""
    quarters = range(round(from_h * 4), round(hours * 4) + 1)
    times = [q / 4 for q in quarters if not but[0] < q / 4 < but[1]]
    at = profile if callable(profile) else lambda _: float(profile)
    return series([END_MS + round(h * HOUR_MS) for h in times], [at(h) for h in times])


def judged(readings: Mapping[SensorId, Series], hours: float, case: PourCase | None = None) -> BayEvidence:
    """Return what readings say so many hours after the end of the pour."""
    case = make_case() if case is None else case
    now_ms, end_ms = END_MS + round(hours * HOUR_MS), case.pour.end_ms
    elapsed_ms = None if end_ms is None else max(0, now_ms - end_ms)
    return evidence(case, readings, now_ms, elapsed_ms=elapsed_ms)


@dataclass
class Story:
    """A pour that is judged each quarter of an hour as its readings come."""

    case: PourCase = field(default_factory=make_case)
    profile: Mapping[SensorId, Profile] = field(
        default_factory=lambda: {**dict.fromkeys(CONCRETE, lambda _: 18.0), AIR: lambda _: 12.0}
    )
    silent: set[SensorId] = field(default_factory=set)
    clock_ok: bool = True
    full: bool = False
    elapsed_ms: int | None = None
    """Checked time since the end of the pour; None: all of it."""
    now_ms: Ms = T0
    readings: dict[SensorId, list[tuple[Ms, float]]] = field(default_factory=dict)
    messages: list[NewMessage] = field(default_factory=list)
    results: list[Result] = field(default_factory=list)

    def copy(self) -> Story:
        """Return the same story, to be told on from here by itself."""
        readings = {sensor: [*rows] for sensor, rows in self.readings.items()}
        return replace(self, silent={*self.silent}, readings=readings, messages=[*self.messages], results=[])

    def hear(self, hours: float) -> Story:
        """Let hours pass as `run` does, but nobody judges what is read."""
        while self.now_ms + QUARTER_MS <= END_MS + round(hours * HOUR_MS):
            self.now_ms += QUARTER_MS
            for sensor, profile in self.profile.items():
                if sensor not in self.silent:
                    self.add(sensor, self.now_ms, profile((self.now_ms - END_MS) / HOUR_MS))
        return self

    def run(self, hours: float) -> Story:
        """Let hours since the end of the pour pass: a reading of each sensor and a round each quarter."""
        while self.now_ms + QUARTER_MS <= END_MS + round(hours * HOUR_MS):
            self.hear((self.now_ms + QUARTER_MS - END_MS) / HOUR_MS)
            self.round()
        return self

    def add(self, sensor: SensorId, taken_ms: Ms, temperature_c: float) -> None:
        """Store a reading; of two for one time the colder stays."""
        rows = dict(self.readings.get(sensor, []))
        kept = min(temperature_c, rows.get(taken_ms, temperature_c))
        rows[taken_ms] = kept
        self.readings[sensor] = sorted(rows.items())
        old = self.case.arrivals.get(sensor)
        new = Arrival(sensor, 1 if old is None else old.revision + 1, max(rows), self.now_ms)
        self.case = replace(self.case, arrivals={**self.case.arrivals, sensor: new})

    def round(self, act: PourAct | None = None) -> Result:
        """Judge once, a minute apart from an act, and put the result back."""
        data = {s: series([t for t, _ in rows], [c for _, c in rows]) for s, rows in self.readings.items()}
        result = assess(self.case, data, self.now_ms, standing=self.standing(act), act=act)
        self.results.append(result)
        self.messages.extend(result.messages)
        keys = [(m.subject, m.epoch, m.kind) for m in self.messages]
        assert len(keys) == len(set(keys)), "the site book keeps one message of a kind, subject and epoch"
        self.case = replace(
            self.case,
            pour=result.pour,
            gates={g.operation: g for g in result.gates},
            holds=result.holds,
            state=result.state,
        )
        return result

    def standing(self, act: PourAct | None) -> Standing:
        """Return what the service says of itself."""
        end_ms = ms(act.happened or act.at) if isinstance(act, PourEnd) else self.case.pour.end_ms
        elapsed_ms = None if end_ms is None else self.now_ms - end_ms
        doubts = () if self.clock_ok else ("the service's clock is not synchronised",)
        return Standing(doubts, elapsed_ms if self.elapsed_ms is None else self.elapsed_ms, full=self.full)

    def press(self, kind: str, who: str = "qc", **fields: Any) -> Result:
        """Hand in an act now."""
        at = datetime.fromtimestamp(self.now_ms / 1000, UTC)
        act = act_from({"kind": kind, "at": at, "who": who, "pour": POUR, **fields})
        assert isinstance(act, PourAct)
        return self.round(act)

    def state(self, operation: Operation = STRIP) -> GateState:
        """Return where a gate stands."""
        return self.case.gates[operation].state

    def told(self) -> list[MessageKind]:
        """Return the kinds of all messages so far."""
        return [m.kind for m in self.messages]

    def conflict(self, sensor: SensorId, taken_ms: Ms, kept_c: float, other_c: float) -> None:
        """Note a conflict."""
        new = Conflict(sensor, taken_ms, round(kept_c * 1000), round(other_c * 1000), self.now_ms)
        self.case = replace(self.case, conflicts=(*self.case.conflicts, new))


def site_of_all(sign_offs: int = 1, **changes: object) -> SiteFile:
    """Return a site with one person of each role, named as the role."""
    inbox = [{"kind": "inbox"}]
    people = [{"id": role.value, "role": role.value, "channels": inbox} for role in Role]
    plan = {**site_dict()["plan"], "sign_offs": sign_offs}
    return make_site(recipient=[*people, {"id": "qc-two", "role": "qc"}], plan=plan, **changes)


@cache
def _plain(hours: float) -> Story:
    before = math.ceil(hours) - 1
    return (plain(before) if before > 0 else Story()).run(hours)


def plain(hours: float) -> Story:
    """Return the plainest story so many hours after the end of its pour: `Story().run(hours)`, judged once for all."""
    return _plain(hours).copy()


@cache
def _told(hours: float, sign_offs: int) -> Story:
    return Story(make_case(site_of_all(sign_offs))).run(hours)


def warm(hours: float, sign_offs: int = 1) -> Story:
    """Return a warm pour so many hours after its end."""
    return _told(hours, sign_offs).copy()


def at(state: GateState, **changes: Any) -> Story:
    """Return a warm pour, 25 h old, whose strip and walk stand at a state; its load is curing."""
    story = warm(25)
    gates = {op: replace(g, state=state, **changes) for op, g in story.case.gates.items() if op != LOAD}
    story.case = replace(story.case, gates={**story.case.gates, **gates})
    return story
