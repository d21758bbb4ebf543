"""Values to JSON text and back, written out by hand: what is stored must outlive the classes."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import lru_cache
from hashlib import sha256
from typing import Any, Final

from shared.errors import StoreError
from shared.models.base import Json, Operation, SensorId
from shared.models.decisions import Finding, Verdict
from shared.models.estimate import Estimate, KeptReadings, SensorAccount

_REMEMBERED: Final = 256
"""Texts whose values are kept: the board reads the same ones over and over, and nothing changes a value."""


def canonical(value: Json) -> str:
    """Return the one text of a JSON value: sorted keys, no spaces. Raises `StoreError` for NaN and the like."""
    try:
        return json.dumps(value, sort_keys=True, allow_nan=False, ensure_ascii=False, separators=(",", ":"))
    except (TypeError, ValueError) as error:
        raise StoreError(f"cannot be kept as JSON: {error}") from error


def digest_of(value: Json) -> str:
    """Return the SHA-256 of the canonical text."""
    return sha256(canonical(value).encode("utf-8", "surrogatepass")).hexdigest()


def parsed(text: str) -> Any:
    """Return the JSON value of a stored text."""
    try:
        return json.loads(text)
    except ValueError as error:
        raise StoreError(f"the site book holds a text that is not JSON: {error}") from error


def estimate_to(estimate: Estimate | None) -> str | None:
    """Return the text of an estimate."""
    if estimate is None:
        return None
    return canonical(
        {
            "evidence_ms": estimate.evidence_ms,
            "age_h": estimate.age_h,
            "coldest_c": estimate.coldest_c,
            "governing_sensor": estimate.governing_sensor,
            "equivalent_age_h": estimate.equivalent_age_h,
            "temperature_time_c_h": estimate.temperature_time_c_h,
            "strength_mpa": estimate.strength_mpa,
            "lower_bound_mpa": estimate.lower_bound_mpa,
            "counted_h": dict(estimate.counted_h),
            "error_budget_mpa": dict(estimate.error_budget_mpa),
            "sensors": [asdict(account) for account in estimate.sensors],
        }
    )


@lru_cache(_REMEMBERED)
def signers_from(text: str) -> tuple[str, ...]:
    """Return the signers of a stored text."""
    return tuple(parsed(text))


def _account_from(body: Mapping[str, Any]) -> SensorAccount:
    kept = tuple(KeptReadings(**one) for one in body["kept"])
    return SensorAccount(SensorId(body["sensor"]), body["credited"], kept, body["refused"])


@lru_cache(_REMEMBERED)
def estimate_from(text: str | None) -> Estimate | None:
    """Return the estimate of a stored text."""
    if text is None:
        return None
    body = parsed(text)
    governing = body["governing_sensor"]
    return Estimate(
        evidence_ms=body["evidence_ms"],
        age_h=body["age_h"],
        coldest_c=body["coldest_c"],
        governing_sensor=None if governing is None else SensorId(governing),
        equivalent_age_h=body["equivalent_age_h"],
        temperature_time_c_h=body["temperature_time_c_h"],
        strength_mpa=body["strength_mpa"],
        lower_bound_mpa=body["lower_bound_mpa"],
        counted_h=body["counted_h"],
        error_budget_mpa=body.get("error_budget_mpa", {}),
        sensors=tuple(map(_account_from, body.get("sensors", ()))),
    )


def _finding_to(finding: Finding) -> dict[str, Json]:
    return {
        "rule": finding.rule,
        "found": finding.found,
        "limit": finding.limit,
        "unit": finding.unit,
        "met": finding.met,
        "lasting": finding.lasting,
    }


def _finding_from(body: Mapping[str, Any]) -> Finding:
    return Finding(
        rule=body["rule"],
        found=body["found"],
        limit=body["limit"],
        unit=body["unit"],
        met=body["met"],
        lasting=body["lasting"],
    )


def verdicts_to(verdicts: Sequence[Verdict]) -> str:
    """Return the text of verdicts."""
    return canonical(
        [
            {
                "operation": v.operation,
                "missing": list(v.missing),
                "met": v.met,
                "findings": [_finding_to(f) for f in v.findings],
            }
            for v in verdicts
        ]
    )


@lru_cache(_REMEMBERED)
def verdicts_from(text: str) -> tuple[Verdict, ...]:
    """Return the verdicts of a stored text."""
    return tuple(
        Verdict(
            operation=Operation(body["operation"]),
            missing=tuple(body["missing"]),
            met=body["met"],
            findings=tuple(_finding_from(f) for f in body["findings"]),
        )
        for body in parsed(text)
    )
