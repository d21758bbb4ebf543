"""The rules of a requirement as lines that a person reads and writes: one rule a line, as in a site file. Pure."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any, Final

from pydantic import ValidationError

from shared.models import requirement as r
from shared.models.people import Role

_ANY: Final = r.AnyRule(
    any=(r.StrengthRule(lower_bound_mpa=7.0), r.AllRule(all=(r.AgeRule(age_h=72.0), r.ConsentRule(consent=True))))
)
LONGEST: Final = 40
"""Rules of one requirement."""


class LineError(Exception):
    """A line cannot be read, or is no rule: the key of what is said of it, and what is put into that."""

    def __init__(self, key: str, fault: Mapping[str, Any] | None = None, **said: str) -> None:
        super().__init__(key)
        self.key, self.said = key, said
        self.fault = fault
        """What its `why` is in words of the model's; None: it has other words, or none."""


def line_of(rule: r.Rule) -> str:
    """Return a rule as a line; `requirement_from` reads it back."""
    return _pairs(rule.model_dump(mode="json", exclude_none=True))


def _pairs(said: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} = {_inline(value)}" for name, value in said.items())


def _inline(value: Any) -> str:
    if isinstance(value, Mapping):
        return f"{{ {_pairs(value)} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_inline, value))}]"
    # TOML's strings, numbers and booleans of one line are JSON's, but for the delete character.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


EXAMPLES: Final[Sequence[tuple[str, r.Rule]]] = tuple(
    (line_of(rule), rule)
    for rule in (
        r.CountedRule(counted_h=24.0, at_c=5.0),
        r.WarmRule(warm_h=1.0, at_c=5.0),
        r.StrengthRule(lower_bound_mpa=3.5),
        r.AgeRule(age_h=48.0),
        r.DoneRule(done="strip"),
        r.TestsRule(tested_mpa=7.0),
        r.DocumentRule(document="reshore drawing"),
        r.ConstructionLoadRule(construction_load=True),
        r.NoStripNearRule(no_strip_near=True),
        _ANY,
    )
)
"""What a rule can be, by example."""


def requirement_from(operation: str, needs: str, signed_by: Sequence[Role], *, each_signs: bool) -> r.Requirement:
    """Return the requirement that was written.

    Args:
        operation: its name.
        needs: a rule a line.
        signed_by: roles that sign it; none: as shipped.
        each_signs: each of them signs.

    Raises:
        LineError: a line cannot be read or is no rule: which, and why.
    """
    lines = [(n, line) for n, line in enumerate(needs.splitlines(), 1) if line.strip()]
    if not 0 < len(lines) <= LONGEST:
        raise LineError("rules-count", most=str(LONGEST))
    rules = [_read(n, line) for n, line in lines]
    said = {"operation": operation, "all": rules, "signed_by": tuple(signed_by) or None, "each_signs": each_signs}
    try:
        return r.Requirement.model_validate(said)
    except ValidationError as error:
        fault = error.errors()[0]
        where = [part for part in fault["loc"] if part != "all"]
        number = next((lines[part][0] for part in where if isinstance(part, int)), None)
        names = ".".join(str(part) for part in where if isinstance(part, str))
        why = f"{names}: {fault['msg']}" if names else fault["msg"]
        raise LineError("rules-line", dict(fault), line="-" if number is None else str(number), why=why) from error


def _read(number: int, line: str) -> Any:
    try:
        found = tomllib.loads(f"rule = {{ {line.strip()} }}")
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise LineError("rules-line", line=str(number), why=str(error)) from error
    if set(found) != {"rule"}:
        raise LineError("rules-one-a-line", line=str(number))
    return found["rule"]
