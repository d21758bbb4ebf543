"""What is wrong with a field of a form, in the words of whoever typed it. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from pydantic import ValidationError

from cure.dashboard.reader import Reader
from cure.dashboard.rule_lines import LineError
from shared.errors import Fault
from shared.units import Unit

NAMES: Final[Mapping[str, str]] = {
    "number": "ticket-number",
    "mix": "ticket-mix",
    "batched": "ticket-batched",
    "placed": "ticket-placed",
    "place": "ticket-place",
    "dose_class": "dose-class",
    "water_l": "ticket-water",
    "withheld_l": "ticket-withheld",
    "air_percent": "ticket-air",
    "air_wanted_percent": "ticket-air-wanted",
    "temperature_c": "ticket-temperature",
    "pour": "word-pour",
    "method": "break-method",
    "mpa": "break-strength",
    "equivalent_age_h": "break-age",
    "position": "position",
    "sensor": "sensor-name",
    "bay": "bay",
    "zone": "zone",
    "depth_mm": "depth-mm",
    "interval_s": "interval-s",
    "second_person": "second-person",
    "why": "reason-why",
}
"""A field of an act to the words that stand beside it on its form; one without is said as it is called."""
UNITS: Final[Mapping[str, Unit]] = {
    "_percent": "%",
    "_mpa": "MPa",
    "_mm": "mm",
    "_c": "degC",
    "_l": "l",
    "_h": "h",
}
"""How a name ends, to the unit of its value."""
LIMITS: Final[Mapping[str, tuple[str, str]]] = {
    "greater_than_equal": ("ge", "fault-least"),
    "greater_than": ("gt", "fault-above"),
    "less_than_equal": ("le", "fault-most"),
    "less_than": ("lt", "fault-below"),
}
"""A kind of fault, to where its limit stands and its words."""
PLAIN: Final[Mapping[str, str]] = {
    "missing": "fault-missing",
    "string_too_short": "fault-missing",
    "string_pattern_mismatch": "fault-signs",
    "literal_error": "fault-choice",
    "enum": "fault-choice",
    "extra_forbidden": "fault-unknown",
    "union_tag_not_found": "fault-unknown",
    "union_tag_invalid": "fault-unknown",
    "float_parsing": "fault-number",
    "float_type": "fault-number",
    "int_parsing": "fault-number",
    "int_type": "fault-number",
    "int_from_float": "fault-number",
    "finite_number": "fault-number",
    "bool_type": "fault-yes-no",
    "bool_parsing": "fault-yes-no",
}
"""Kinds of faults that need no more words than their own."""


def faults_said(error: ValidationError, reader: Reader) -> str:
    """Return what is wrong with each field, in the reader's words and units."""
    return "; ".join(fault_said(fault, reader) for fault in error.errors())


def fault_said(fault: Mapping[str, Any], reader: Reader) -> str:
    """Return what is wrong with one field.

    Args:
        fault: as pydantic tells it: where, of which kind, by which limit.
        reader: who has typed it.
    """
    name = next((part for part in reversed(fault["loc"]) if isinstance(part, str)), "")
    key = NAMES.get(name)
    what = reader.say(key) if key is not None else name or "-"
    return reader.say("fault-of", what=what, fault=_said(fault, name, reader))


def text_fault_said(fault: Fault, reader: Reader) -> str:
    """Return what is wrong with a programme of the laboratory: in English as the command says it."""
    known = reader.voice.known
    file = known(fault.file)
    where = file if fault.line is None else reader.say("fault-line", file=file, line=str(fault.line))
    # What was typed stays as it was typed.
    quoted = fault.found[:1] in {"'", '"'} and fault.found[-1:] == fault.found[:1]
    found = fault.found if quoted else known(fault.found)
    return reader.say("fault-in-text", where=where, field=known(fault.field), found=found, allowed=known(fault.allowed))


def line_said(error: LineError, reader: Reader) -> str:
    """Return what is wrong with a line of a requirement."""
    why = {} if error.fault is None else {"why": fault_said(error.fault, reader)}
    return reader.say(error.key, **{**error.said, **why})


def _said(fault: Mapping[str, Any], name: str, reader: Reader) -> str:
    kind, limits = str(fault["type"]), fault.get("ctx", {})
    if kind in LIMITS:
        where, words = LIMITS[kind]
        return reader.say(words, limit=_number(float(limits[where]), name, reader))
    if kind == "string_too_long":
        return reader.say("fault-long", most=str(limits["max_length"]))
    return reader.say(PLAIN.get(kind, "fault-wrong"))


def _number(limit: float, name: str, reader: Reader) -> str:
    unit = next((unit for end, unit in UNITS.items() if f"_{name}".endswith(end)), None)
    return f"{limit:g}" if unit is None else reader.number(limit, unit, limit=True)
