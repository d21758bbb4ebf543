"""Stored rows as the interface for other software tells them, judged by the same functions as the pages. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from cure.dashboard import api_models as m
from cure.dashboard.api_estimate import AccountAnswer, EstimateAnswer, KeptAnswer
from cure.dashboard.board import in_order, is_stopped
from cure.dashboard.expected import cautious_ms, expected_ms
from cure.dashboard.foretold import kept_hours, kept_notes
from cure.dashboard.reader import Reader
from cure.dashboard.signing import item_of
from cure.dashboard.signs import KEEP_OFF, STOPPED, sign_of
from cure.loggers import LoggerRow
from shared.models.acts import instant
from shared.models.base import BayId, Ms, Operation
from shared.models.decisions import Finding, GateState, Hold, LogEntry
from shared.models.estimate import SensorAccount
from shared.models.messages import Delivery, Message
from shared.models.setup import BaySettings, SiteFile
from shared.ports import BoardRow, MixRow

IN_DOUBT: Final = "in doubt"
KEPT_OFF: Final = "keep off"
RELEASED: Final = frozenset({GateState.RELEASED, GateState.UNDER_WAY})


def hour(at_ms: Ms, site: SiteFile) -> datetime:
    """Return an hour with the site's offset."""
    return instant(at_ms, ZoneInfo(site.site.zone))


def maybe_hour(at_ms: Ms | None, site: SiteFile) -> datetime | None:
    """Return an hour with the site's offset, if there is one."""
    return None if at_ms is None else hour(at_ms, site)


def standing(row: BoardRow, operation: Operation, *, stopped: bool) -> str:
    """Return what may be acted on: as the board's sign says it."""
    sign = sign_of(row, operation, stopped=stopped)
    if sign is KEEP_OFF:
        return KEPT_OFF
    return IN_DOUBT if sign is STOPPED else row.gates[operation].state.value


def gate_answer(
    row: BoardRow, operation: Operation, site: SiteFile, now: Ms, reader: Reader, *, stopped: bool
) -> m.GateAnswer:
    """Return one gate."""
    gate, shown = row.gates[operation], standing(row, operation, stopped=stopped)
    verdict = next((v for v in row.state.verdicts if v.operation == operation), None)
    return m.GateAnswer(
        bay=row.pour.bay,
        pour=row.pour.id,
        operation=operation,
        standing=shown,
        released=shown in RELEASED,
        state=gate.state.value,
        epoch=gate.epoch,
        since=hour(gate.changed_ms, site),
        reason=gate.reason,
        signers=list(gate.signers),
        evidence=gate.snapshot,
        item=item_of(gate),
        findings=[] if verdict is None else [finding_answer(f, reader) for f in verdict.findings],
        missing=[] if verdict is None else list(verdict.missing),
        expected=maybe_hour(expected_ms(row, operation, now, stopped=stopped), site),
        expected_cautious=maybe_hour(cautious_ms(row, operation, now, stopped=stopped), site),
        forecast=_foretold(row, operation, site, stopped=stopped),
    )


def _foretold(row: BoardRow, operation: Operation, site: SiteFile, *, stopped: bool) -> m.ForetoldAnswer | None:
    kept = kept_hours(row, stopped=stopped).get(operation)
    if kept is None:
        return None
    names = {"p10": "early_ms", "p50": "even_ms", "p90": "cautious_ms", "wanted": "wanted_ms"}
    hours = {name: maybe_hour(kept[key], site) for name, key in names.items()}
    shares = {name: kept[name] for name in ("waits_for", "spread")}
    return m.ForetoldAnswer(**hours, **shares, chance=kept["wanted_chance"])


def finding_answer(finding: Finding, reader: Reader) -> m.FindingAnswer:
    """Return one finding, with the sentence that page and message print."""
    f = finding
    return m.FindingAnswer(
        rule=f.rule, found=f.found, limit=f.limit, unit=f.unit, met=f.met, sentence=f.explain(reader.first)
    )


def pour_answer(row: BoardRow, site: SiteFile, now: Ms, reader: Reader, *, doubted: bool) -> m.PourAnswer:
    """Return one open pour."""
    stopped = is_stopped(row, site, now, doubted=doubted)
    none, notes = kept_notes(row, stopped=stopped)
    return m.PourAnswer(
        bay=row.pour.bay,
        floor=row.floor,
        pour=row.pour.id,
        mix=row.pour.mix,
        start=hour(row.pour.start_ms, site),
        end=maybe_hour(row.pour.end_ms, site),
        in_doubt=stopped,
        gates=[gate_answer(row, op, site, now, reader, stopped=stopped) for op in in_order(row)],
        holds=[hold_answer(h, site) for h in row.holds],
        estimate=estimate_answer(row, site),
        no_forecast=none,
        forecast_notes=notes,
    )


def hold_answer(hold: Hold, site: SiteFile) -> m.HoldAnswer:
    """Return one hold."""
    since = hour(hold.since_ms, site)
    return m.HoldAnswer(kind=hold.kind, since=since, owner=hold.owner, reason=hold.reason, how=hold.how)


def estimate_answer(row: BoardRow, site: SiteFile) -> EstimateAnswer | None:
    """Return the newest estimate of a pour."""
    e = row.state.estimate
    if e is None:
        return None
    return EstimateAnswer(
        as_of=hour(row.state.as_of_ms, site),
        evidence_to=maybe_hour(e.evidence_ms, site),
        age_h=e.age_h,
        coldest_c=e.coldest_c,
        governing_sensor=e.governing_sensor,
        equivalent_age_h=e.equivalent_age_h,
        temperature_time_c_h=e.temperature_time_c_h,
        strength_mpa=e.strength_mpa,
        lower_bound_mpa=e.lower_bound_mpa,
        counted_h=dict(e.counted_h),
        sensors=[account_answer(a, site) for a in e.sensors],
    )


def account_answer(account: SensorAccount, site: SiteFile) -> AccountAnswer:
    """Return what became of a sensor's readings."""
    kept = [
        KeptAnswer(reason=k.reason, readings=k.readings, since=hour(k.from_ms, site), until=maybe_hour(k.to_ms, site))
        for k in account.kept
    ]
    return AccountAnswer(sensor=account.sensor, credited=account.credited, kept=kept, refused=dict(account.refused))


def bay_answer(bay: BaySettings, pour: m.PourAnswer | None, caution: str) -> m.BayAnswer:
    """Return one bay."""
    return m.BayAnswer(
        id=bay.id,
        floor=bay.floor,
        mix=bay.mix,
        thickness_mm=bay.thickness_mm,
        exclusions=bay.exclusions,
        construction_load_kpa=bay.construction_load_kpa,
        pour=pour,
        caution=caution,
    )


def decision_answer(line: int, entry: LogEntry, site: SiteFile) -> m.DecisionAnswer:
    """Return one line of the log."""
    return m.DecisionAnswer(
        line=line, at=hour(entry.at_ms, site), who=entry.who, what=entry.what, body=dict(entry.body)
    )


def message_answer(message: Message, deliveries: Sequence[Delivery], site: SiteFile) -> m.MessageAnswer:
    """Return one message with its deliveries."""
    return m.MessageAnswer(
        no=message.no,
        code=message.code,
        kind=message.kind,
        pour=message.pour,
        subject=message.subject,
        epoch=message.epoch,
        at=hour(message.at_ms, site),
        valid_until=maybe_hour(message.valid_until_ms, site),
        facts={name: said for name, said in message.facts.items() if name != "chart"},
        deliveries=[
            m.DeliveryAnswer(
                recipient=d.recipient,
                channel=d.channel,
                state=d.state,
                attempts=d.attempt,
                accepted=maybe_hour(d.accepted_ms, site),
                outcome=d.outcome,
            )
            for d in deliveries
            if d.message == message.no
        ],
    )


def record_answer(message: Message, site: SiteFile, caution: str, *, stands: bool) -> m.RecordAnswer:
    """Return one record."""
    return m.RecordAnswer(
        no=message.no,
        code=message.code,
        kind=message.kind,
        pour=message.pour,
        operation=message.subject,
        at=hour(message.at_ms, site),
        stands=stands,
        caution=caution,
    )


def logger_answer(row: LoggerRow, site: SiteFile) -> m.LoggerAnswer:
    """Return one sensor."""
    lies = row.placement
    return m.LoggerAnswer(
        name=row.name,
        standing=row.standing,
        bay=None if lies is None else lies.bay,
        zone=None if lies is None else lies.zone,
        depth_mm=None if lies is None else lies.depth_mm,
        heard=maybe_hour(row.heard_ms, site),
        temperature_c=None if row.milli_c is None else row.milli_c / 1000.0,
        battery_percent=row.battery_percent,
        signal_db=row.signal_db,
        to_do=row.to_do,
    )


def calibration_answer(row: MixRow) -> m.CalibrationAnswer:
    """Return one version of a calibration."""
    return m.CalibrationAnswer(
        mix=row.mix.id,
        version=row.calibration.version,
        in_force=row.in_force,
        calibration=row.calibration.model_dump(mode="json", exclude_none=True),
        pours=[p.pour.id for p in row.pours],
    )


def bays(site: SiteFile) -> dict[BayId, BaySettings]:
    """Return the bays of the site file by name."""
    return {bay.bay_id: bay for bay in site.bay}
