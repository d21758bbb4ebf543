"""What one field of a requirement cannot know: who signs it, and which operations there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final

from shared.models.base import FULL_LOAD, LOAD, STRIP, WALK
from shared.models.people import Role
from shared.models.requirement import DESK, Requirement, signing_roles
from shared.models.setup import PlanSettings, SiteFile
from shared.site_tables import in_force, listed, table_of, tables
from shared.toml_lines import Path
from shared.toml_model import Doubt, Table, shown

SHIPPED_AFTER: Final[Mapping[str, tuple[str, ...]]] = {LOAD: (STRIP,), FULL_LOAD: (LOAD,)}
"""What must be done before an operation by the shipped requirements."""


def _operations(table: Table) -> dict[str, Path]:
    """Return each operation with where it is asked for: the last place counts."""
    also = table_of(table, "plan").get("also") or ()
    found: dict[str, Path] = dict.fromkeys((STRIP, WALK, LOAD, *(name for name in also if name)), ("plan", "sign_offs"))
    for path, entry in tables(table, "requirement"):
        if entry.get("operation") is not None:
            found[entry["operation"]] = path
    return found


def operations_are_written_once(table: Table) -> Iterator[Doubt]:
    """Two requirements for one operation: nobody could say which counts."""
    seen: set[str] = set()
    for path, entry in tables(table, "requirement"):
        operation = entry.get("operation")
        if operation in seen:
            yield Doubt((*path, "operation"), f"{shown(operation)} again", "one requirement for each operation")
        elif operation is not None:
            seen.add(operation)


def _rules(path: Path, rules: Any) -> Iterator[tuple[Path, Table]]:
    for index, rule in enumerate(rules or ()):
        if isinstance(rule, dict):
            yield (*path, index), rule
            for way in ("all", "any"):
                yield from _rules((*path, index, way), rule.get(way))


def operations_named_exist(table: Table) -> Iterator[Doubt]:
    """What must be done first is an operation of the site, and another one."""
    known = _operations(table)
    for path, entry in tables(table, "requirement"):
        others = [name for name in known if name != entry.get("operation")]
        for where, rule in _rules((*path, "all"), entry.get("all")):
            if rule.get("done") is not None and rule["done"] not in others:
                yield Doubt((*where, "done"), shown(rule["done"]), f"another operation: {listed(others)}")


def _waits(rules: Any, path: Path) -> Iterator[tuple[Path, str]]:
    """Yield what must be done whatever way is taken, and where that is written."""
    for index, rule in enumerate(rules or ()):
        if isinstance(rule, dict):
            if isinstance(rule.get("done"), str):
                yield (*path, index, "done"), rule["done"]
            yield from _waits(rule.get("all"), (*path, index, "all"))


def nothing_waits_for_itself(table: Table) -> Iterator[Doubt]:
    """Operations that wait for each other are never released."""
    written = {
        entry.get("operation"): list(_waits(entry.get("all"), (*path, "all")))
        for path, entry in tables(table, "requirement")
    }
    after: dict[Any, Sequence[str]] = {
        **SHIPPED_AFTER,
        **{op: tuple(name for _, name in waits) for op, waits in written.items()},
    }
    told: set[str] = set()
    for operation, waits in written.items():
        for where, name in waits:
            behind = _behind(name, after)
            if name != operation and operation in behind and operation not in told:
                told |= behind
                yield Doubt(where, shown(name), f"an operation that does not wait for {operation}")


def _behind(operation: str, after: Mapping[Any, Sequence[str]]) -> set[str]:
    """Return an operation with all that it waits for."""
    found: set[str] = set()
    waiting = [operation]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += after.get(name, ())
    return found


def shares_are_of_something(table: Table) -> Iterator[Doubt]:
    """A share of the specified strength needs that strength of every mix that is placed."""
    written = {entry.get("operation"): entry for _, entry in tables(table, "requirement")}
    asked = [name for name in table_of(table, "plan").get("also") or () if name == FULL_LOAD and name not in written]
    asked += [
        op for op, entry in written.items() if any("tested_percent" in r for _, r in _rules((), entry.get("all")))
    ]
    placed = {bay.get("mix") for _, bay in tables(table, "bay")}
    for path, mix in tables(table, "mix"):
        if asked and mix.get("id") in placed and "specified_mpa" not in mix:
            yield Doubt(
                (*path, "specified_mpa"), "nothing", f"the specified strength, of which {asked[0]} asks a share"
            )


def signers_may_sign(table: Table) -> Iterator[Doubt]:
    """Who signs has a role that may sign, and each role is named once."""
    for path, entry in tables(table, "requirement"):
        named = entry.get("signed_by") or ()
        for index, role in enumerate(named):
            if role is not None and (role not in DESK or role in named[:index]):
                yield Doubt((*path, "signed_by", index), shown(role), f"each once, of: {listed(DESK)}")


def enough_people_may_sign(table: Table) -> Iterator[Doubt]:
    """For each operation there are as many people with its roles as sign it."""
    people = [entry.get("role") for _, entry in tables(table, "recipient")]
    written = {entry.get("operation"): entry for _, entry in tables(table, "requirement")}
    if None in people or any(_signing_is_at_fault(entry) for entry in written.values()):
        return
    there, policy = Counter(people), table_of(table, "plan").get("sign_offs") or 0
    scarcest: dict[Path, tuple[int, Doubt]] = {}
    for operation, path in _operations(table).items():
        signing = _Signing(operation, written.get(operation, {}), policy, there)
        if signing.lacking is not None:
            found = signing.signers, Doubt(path, f"{signing.wanted} to sign {operation}", signing.lacking)
            scarcest[path] = min(scarcest.get(path, found), found, key=lambda kept: kept[0])
    yield from (doubt for _, doubt in scarcest.values())


class _Signing:
    """How many sign an operation, and how many could."""

    def __init__(self, operation: str, entry: Table, policy: int, there: Mapping[Any, int]) -> None:
        named = entry.get("signed_by")
        roles = signing_roles(operation, None if named is None else tuple(map(Role, named)))
        each = roles if entry.get("each_signs") else ()
        self.wanted = max(policy, len(each), 1 if named else 0)
        self.signers = sum(there[role] for role in roles)
        self.lacking: str | None = None
        if absent := [role for role in each if not there[role]]:
            self.lacking = f"a recipient of each role that signs {operation}; there is none of: {listed(absent)}"
        elif self.signers < self.wanted:
            self.lacking = f"at most {self.signers}: so many recipients may sign {operation} ({listed(roles)})"


def _signing_is_at_fault(entry: Table) -> bool:
    named = entry.get("signed_by", ())
    return named is None or None in named or any(role not in DESK for role in named)


def a_second_person_can_check(table: Table) -> Iterator[Doubt]:
    """The check of a pour takes another person than the one who entered its end, both of those who may sign."""
    plan, people = table_of(table, "plan"), [entry.get("role") for _, entry in tables(table, "recipient")]
    if not plan or None in people or not people or in_force(plan, PlanSettings, "second_check") is not True:
        return
    count = sum(role in DESK for role in people)
    if count < 2:
        wanted = f"false, or two recipients of: {listed(DESK)}; one enters the end of a pour, the other checks it"
        yield Doubt(("plan", "second_check"), f"true with {count} who may", wanted)


REQUIREMENT_CHECKS: Final[Sequence[Callable[[Table], Iterator[Doubt]]]] = (
    operations_are_written_once,
    operations_named_exist,
    nothing_waits_for_itself,
    shares_are_of_something,
    signers_may_sign,
    enough_people_may_sign,
    a_second_person_can_check,
)


def why_nobody_could(site: SiteFile, new: Requirement) -> str | None:
    """Return why a requirement of the site book could never be met or signed at this site; None: it could."""
    others = [r for r in site.requirement if r.operation != new.operation]
    whole = site.model_copy(update={"requirement": (*others, new)}).model_dump(mode="json", exclude_none=True)
    doubts = (d for check in (signers_may_sign, enough_people_may_sign, shares_are_of_something) for d in check(whole))
    return next((f"{d.found}; allowed: {d.allowed}" for d in doubts), None)
