"""Requirements of a site file: what their fields cannot know, and that a slip in one is one fault."""

from __future__ import annotations

from pathlib import Path

import pytest
from setup_support import SITE, changed, line_of, written

from shared.errors import Fault, SetupError
from shared.sitefile import load

ENGINEER = '[[recipient]]\nid = "engineer"\nrole = "engineer"\n'


def own(operation: str = "crane pad", rules: str = "{ lower_bound_mpa = 12 }", more: str = "") -> str:
    return f'[[requirement]]\noperation = "{operation}"\nall = [{rules}]\n{more}'


def faults(folder: Path, text: str) -> list[Fault]:
    try:
        load(written(folder, text))
    except SetupError as error:
        return list(error.faults)
    return []


def fields(folder: Path, text: str) -> list[str]:
    return [fault.field for fault in faults(folder, text)]


@pytest.mark.parametrize(
    "text",
    [
        own(),
        own("strip", "{ counted_h = 20, at_c = 5 }, { any = [{ lower_bound_mpa = 5 }, { all = [{ age_h = 48 }] }] }"),
        own("load", '{ done = "strip" }, { tested_percent = 50, at_least = 3 }'),
        own() + own("hoist", '{ done = "crane pad" }'),
        own(more='signed_by = ["qc"]\neach_signs = true\n'),
    ],
)
def test_a_requirement_of_the_sites_own_loads(tmp_path: Path, text: str) -> None:
    assert faults(tmp_path, SITE + text) == []


@pytest.mark.row("O6")
@pytest.mark.parametrize(
    ("rules", "field", "found"),
    [
        ("{ counted_h = 24, at_c = 5 }, { lower_bound_mpa = 0.35 }", "all[2].lower_bound_mpa", "0.35"),
        ("{ lower_bound_mpa = 508 }", "all[1].lower_bound_mpa", "508"),
        ("{ counted_h = 24 }", "all[1].at_c", "nothing"),
        ("{ counted_h = 24, at_c = 41 }", "all[1].at_c", "41"),
        ("{ counted_hours = 24, at_c = 5 }", "all[1]", "a table"),
        ("{ lower_bound_mpa = 7, lower_bound_psi = 1000 }", "all[1].lower_bound_psi", "an unknown key"),
        ("{ any = [{ lower_bound_mpa = 7 }] }", "all[1].any", "a list of 1"),
        ("{ any = [{ lower_bound_mpa = 7 }, { age_h = -1 }] }", "all[1].any[2].age_h", "-1"),
        ("{ tested_mpa = 7, tested_percent = 75 }", "all[1]", "a table"),
        ("{ tested_percent = 7 }", "all[1].tested_percent", "7"),
        ("{ at_c = 5 }", "all[1]", "a table"),
        ("3", "all[1]", "3"),
        ("", "all", "an empty list"),
    ],
)
def test_a_slip_in_a_rule_is_one_fault_at_its_place(tmp_path: Path, rules: str, field: str, found: str) -> None:
    text = SITE + own(rules=rules)
    (fault,) = faults(tmp_path, text)
    assert (fault.field, fault.found) == (f"requirement[1].{field}", found)
    assert fault.line == line_of(text, "all = [")


def test_one_operation_has_one_requirement(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, SITE + own() + own())
    assert (fault.field, fault.found) == ("requirement[2].operation", '"crane pad" again')


@pytest.mark.parametrize("named", ["crane pad", "striping", "full load"])
def test_what_must_be_done_first_is_another_operation_of_the_site(tmp_path: Path, named: str) -> None:
    text = SITE + own(rules=f'{{ age_h = 12 }}, {{ any = [{{ done = "{named}" }}, {{ age_h = 24 }}] }}')
    (fault,) = faults(tmp_path, text)
    assert fault.field == "requirement[1].all[2].any[1].done"
    assert '"strip", "walk", "load"' in fault.allowed


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (own(rules='{ done = "hoist" }') + own("hoist", '{ done = "crane pad" }'), ["requirement[1].all[1].done"]),
        (own("strip", '{ done = "load" }'), ["requirement[1].all[1].done"]),
        (own("strip", '{ age_h = 1 }, { all = [{ done = "load" }] }'), ["requirement[1].all[2].all[1].done"]),
        (
            own("a", '{ done = "b" }') + own("b", '{ done = "c" }') + own("c", '{ done = "a" }'),
            ["requirement[1].all[1].done"],
        ),
        (own("strip", '{ done = "load" }') + own("load", "{ lower_bound_mpa = 7 }"), []),
        (own(rules='{ any = [{ done = "hoist" }, { age_h = 24 }] }') + own("hoist", '{ done = "crane pad" }'), []),
        (own("a", '{ done = "b" }, { done = "strip" }') + own("b", '{ done = "strip" }'), []),
    ],
)
def test_operations_do_not_wait_for_each_other(tmp_path: Path, text: str, found: list[str]) -> None:
    assert fields(tmp_path, SITE + text) == found


SHARE = "{ tested_percent = 50 }"


@pytest.mark.parametrize(
    ("also", "text", "fault"),
    [
        ('also = ["full load"]\n', "", True),
        ('also = ["full load"]\n', own("full load", "{ tested_mpa = 20 }"), False),
        ('also = ["uncover"]\n', "", False),
        ("", own(rules=SHARE), True),
        ("", own(rules=f"{{ any = [{{ age_h = 24 }}, {{ all = [{SHARE}] }}] }}"), True),
        ("", own(rules="{ tested_mpa = 20 }"), False),
    ],
)
def test_a_share_of_the_specified_strength_needs_one_of_every_mix_placed(
    tmp_path: Path, also: str, text: str, fault: bool
) -> None:
    whole = changed(SITE, "sign_offs = 1\n", f"sign_offs = 1\n{also}") + ENGINEER + text
    assert faults(tmp_path, whole) == []
    unsaid = changed(whole, "specified_mpa = 32\n", "")
    assert fields(tmp_path, unsaid) == ["mix[c32-f].specified_mpa"] * fault
    unplaced = '[[mix]]\nid = "c20"\nsupplementary = true\n'
    assert faults(tmp_path, whole + unplaced) == []


def test_what_the_plan_asks_for_also_may_be_named(tmp_path: Path) -> None:
    text = changed(SITE, "sign_offs = 1", 'sign_offs = 1\nalso = ["uncover"]')
    assert faults(tmp_path, text + own(rules='{ done = "uncover" }')) == []


@pytest.mark.parametrize("signed_by", ['["crew"]', '["qc", "qc"]', '["admin", "qc"]'])
def test_who_signs_has_a_role_that_may_sign_and_is_named_once(tmp_path: Path, signed_by: str) -> None:
    (field,) = fields(tmp_path, SITE + own(more=f"signed_by = {signed_by}\n"))
    assert field.startswith("requirement[1].signed_by[")


@pytest.mark.row("O8")
def test_two_signatures_need_two_people_for_each_operation(tmp_path: Path) -> None:
    two = changed(SITE, "sign_offs = 1", "sign_offs = 2")
    (fault,) = faults(tmp_path, two)
    assert fault.field == "plan.sign_offs"
    assert fault.allowed == 'at most 1: so many recipients may sign load ("qc", "engineer")'
    assert faults(tmp_path, two + ENGINEER) == []


@pytest.mark.parametrize("role", ["crew", "viewer", "installer", "admin"])
def test_only_roles_that_may_sign_are_counted(tmp_path: Path, role: str) -> None:
    (fault,) = faults(tmp_path, changed(SITE, 'role = "qc"', f'role = "{role}"'))
    assert (fault.field, fault.allowed[:9]) == ("plan.sign_offs", "at most 0")
    unsigned = changed(changed(SITE, 'role = "qc"', f'role = "{role}"'), "sign_offs = 1", "sign_offs = 0")
    assert faults(tmp_path, unsigned) == []


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ('signed_by = ["engineer"]\n', "requirement[1]"),
        ('signed_by = ["qc", "engineer"]\neach_signs = true\n', "requirement[1]"),
        ("each_signs = true\n", "requirement[1]"),
    ],
)
def test_a_requirement_that_nobody_there_could_sign_is_refused(tmp_path: Path, more: str, field: str) -> None:
    assert fields(tmp_path, SITE + own(more=more)) == [field]
    assert fields(tmp_path, SITE + own(more=more) + ENGINEER) == []


def test_full_load_wants_an_engineer(tmp_path: Path) -> None:
    text = changed(SITE, "sign_offs = 1", 'sign_offs = 1\nalso = ["full load"]')
    (fault,) = faults(tmp_path, text)
    assert '"engineer"' in fault.allowed
    assert faults(tmp_path, text + ENGINEER) == []


@pytest.mark.row("O1")
def test_a_second_person_check_takes_two_people(tmp_path: Path) -> None:
    checked = changed(SITE, "second_check = false\n", "")
    assert faults(tmp_path, checked) == []
    alone = changed(checked, 'role = "superintendent"', 'role = "crew"')
    (fault,) = faults(tmp_path, alone)
    assert (fault.field, fault.found) == ("plan.second_check", "true with 1 who may")
    assert faults(tmp_path, changed(alone, "sign_offs = 1", "sign_offs = 1\nsecond_check = false")) == []
