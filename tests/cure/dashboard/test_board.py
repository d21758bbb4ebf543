from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pages_support import NOW, OTHER, SITE, row
from store_support import BAY, make_site, site_dict

from alerts.site_words import shipped
from cure.dashboard.board import Board, board, is_late
from cure.dashboard.groups import GROUPS, group_of
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from cure.dashboard.signs import SIGNS
from shared.models.base import HOUR_MS, LOAD, MINUTE_MS, STRIP, UNCOVER, WALK, BayId, Ms
from shared.models.decisions import Doubt, DoubtKind, GateState, Hold, HoldKind, Verdict
from shared.ports import BoardRow

S = GateState
INTERVAL_MS = SITE.site.interval_s * 1000


def reader(language: str = "en") -> Reader:
    return Reader(words()[language], shipped()[language], "SI", SITE.site.zone)


def shown(*rows: BoardRow, now: Ms = NOW, language: str = "en", floor: str = "") -> Board:
    return board(rows, (), SITE, now, reader(language), floor)


def states(**named: GateState) -> BoardRow:
    return row(BAY, {STRIP: named["strip"], WALK: named["walk"], LOAD: named["load"]})


@pytest.mark.parametrize(
    ("found", "group"),
    [
        ({"strip": S.RELEASED, "walk": S.MET, "load": S.WITHDRAWN}, "look-first"),
        ({"strip": S.DONE, "walk": S.RELEASED, "load": S.HOLD}, "look-first"),
        ({"strip": S.SUSPENDED, "walk": S.CURING, "load": S.CURING}, "look-first"),
        ({"strip": S.DONE_WITHOUT_RELEASE, "walk": S.CURING, "load": S.CURING}, "look-first"),
        ({"strip": S.RELEASED, "walk": S.MET, "load": S.CURING}, "released"),
        ({"strip": S.UNDER_WAY, "walk": S.CURING, "load": S.NOT_SET_UP}, "released"),
        ({"strip": S.DONE, "walk": S.MET, "load": S.CURING}, "sign-off"),
        ({"strip": S.DONE, "walk": S.CURING, "load": S.NOT_SET_UP}, "curing"),
        ({"strip": S.NOT_SET_UP, "walk": S.NOT_SET_UP, "load": S.NOT_SET_UP}, "curing"),
        ({"strip": S.DONE, "walk": S.DONE, "load": S.DONE}, "done"),
    ],
)
def test_a_pour_stands_where_the_most_pressing_of_its_gates_puts_it(found: dict[str, GateState], group: str) -> None:
    assert group_of(states(**found), SITE, NOW) == group


@given(st.lists(st.tuples(*[st.sampled_from(GateState)] * 3), max_size=8))
@settings(max_examples=60, deadline=None)
def test_every_pour_is_shown_once_and_what_needs_a_person_stands_first(found: list[tuple[GateState, ...]]) -> None:
    rows = [row(BayId(f"2-b{n}"), dict(zip((STRIP, WALK, LOAD), of, strict=True))) for n, of in enumerate(found)]
    made = shown(*rows)
    lines = [line for group in made.groups for line in group.lines]
    assert sorted(line.bay for line in lines) == sorted(r.pour.bay for r in rows)
    order = [GROUPS.index(group.key) for group in made.groups]
    assert order == sorted(order)
    gates = {(str(r.pour.bay), op): g.state for r in rows for op, g in r.gates.items()}
    for line in lines:
        for cell in line.cells:
            if cell.fill == "released":
                assert gates[line.bay, cell.operation] in {S.RELEASED, S.UNDER_WAY}
            if gates[line.bay, cell.operation] is S.WITHDRAWN and cell.operation == STRIP:
                assert cell.word == "Keep forms on"


@pytest.mark.parametrize("language", ["en", "fr", "es"])
@pytest.mark.parametrize("state", GateState)
def test_every_state_is_shown_by_its_sign_in_every_language(state: GateState, language: str) -> None:
    (group,) = shown(row(BAY, {STRIP: state}), language=language).groups
    cell = group.lines[0].cells[0]
    assert (cell.shape, cell.fill) == (SIGNS[state].shape, SIGNS[state].fill)
    assert cell.word == reader(language).worded(SIGNS[state].word, "strip")


def test_a_withdrawal_says_what_to_keep_from_in_no_word_that_permits() -> None:
    withdrawn = row(BAY, dict.fromkeys((STRIP, WALK, LOAD), S.WITHDRAWN), reason="STOP pressed")
    said = {
        language: [c.word.replace("\u00ad", "") for c in shown(withdrawn, language=language).groups[0].lines[0].cells]
        for language in ("en", "fr", "es")
    }
    assert said["en"] == ["Keep forms on", "Keep off", "Keep load off"]
    assert said["fr"] == ["Annulé : ne pas décoffrer", "Annulé : ne pas marcher", "Annulé : ne pas charger"]
    assert said["es"] == ["Anulado: no desencofrar", "Anulado: no pisar", "Anulado: no cargar"]


def test_without_sign_offs_met_is_never_called_released_nor_wanted_to_be_signed() -> None:
    unsigned = make_site(plan={**site_dict()["plan"], "sign_offs": 0})
    made = board([row(BAY, {STRIP: S.MET})], (), unsigned, NOW, reader())
    assert made.groups[0].lines[0].cells[0].word == "Met, not signed"


def test_half_a_signature_is_said() -> None:
    cell = shown(row(BAY, {STRIP: S.MET}, signers=("qc",))).groups[0].lines[0].cells[0]
    assert (cell.word, cell.reason) == ("Sign-off wanted", "1 signed")


def test_a_hold_says_its_reason_and_a_gate_that_is_not_set_up_what_is_missing() -> None:
    hold = Hold(HoldKind.FREEZE_SUSPECTED, NOW, "qc", "0.4 degC at the edge", "measure")
    missing = Verdict(LOAD, ("the construction load",), met=False, findings=())
    held = row(BAY, {STRIP: S.HOLD, LOAD: S.NOT_SET_UP}, holds=(hold,), verdicts=(missing,))
    strip, _, load = shown(held).groups[0].lines[0].cells
    assert strip.reason == "0.4 degC at the edge"
    assert load.detail == "the construction load"


def test_curing_has_no_hour_and_the_board_says_why() -> None:
    made = shown(row())
    cells = made.groups[0].lines[0].cells
    assert {(c.word, c.reason) for c in cells} == {("Curing", "")}
    assert made.notes[0].endswith('"Curing" without an hour: none is foreseen.')
    assert made.notes[1].startswith("No weather forecast is set up: expected hours go by the site's own air")


@pytest.mark.parametrize(
    ("evidence_ms", "said", "old"),
    [
        (NOW - 600_000, "to 17:50", False),
        (NOW - 3 * INTERVAL_MS, "to 17:15", False),
        (NOW - 3 * INTERVAL_MS - 1, "to 17:14, old", True),
        (NOW - 20 * HOUR_MS, "to Mon 22:00, old", True),
        (None, "no reading yet", True),
    ],
)
def test_the_hour_of_the_evidence_stands_with_the_bay(evidence_ms: Ms | None, said: str, old: bool) -> None:
    line = shown(row(evidence_ms=evidence_ms)).groups[0].lines[0]
    assert (line.evidence, line.old) == (said, old)


def test_a_pour_that_nobody_looks_at_any_more_is_in_doubt_and_stands_first() -> None:
    late = row(BAY, {STRIP: S.RELEASED, WALK: S.MET, LOAD: S.WITHDRAWN})
    late = replace(late, state=replace(late.state, next_due_ms=NOW - 6 * MINUTE_MS, as_of_ms=NOW - HOUR_MS))
    made = shown(late, row(OTHER, {STRIP: S.RELEASED}))
    assert [(g.key, [ln.bay for ln in g.lines]) for g in made.groups] == [("look-first", [BAY]), ("released", [OTHER])]
    assert [c.word for c in made.groups[0].lines[0].cells] == ["In doubt", "In doubt", "Keep load off"]
    assert made.warnings[0].startswith("Estimates stopped 17:00")


@pytest.mark.parametrize(
    ("next_due_ms", "as_of_ms", "late"),
    [
        (NOW + HOUR_MS, NOW - 20 * HOUR_MS, False),
        (NOW - 5 * MINUTE_MS, NOW - HOUR_MS, False),
        (NOW - 5 * MINUTE_MS - 1, NOW - HOUR_MS, True),
        (0, NOW - 2 * INTERVAL_MS, False),
        (0, NOW - 2 * INTERVAL_MS - 1, True),
        (0, 0, True),
    ],
)
def test_late_is_what_was_due_and_not_looked_at(next_due_ms: Ms, as_of_ms: Ms, late: bool) -> None:
    found = row()
    found = replace(found, state=replace(found.state, next_due_ms=next_due_ms, as_of_ms=as_of_ms))
    assert is_late(found, SITE, NOW) is late


def test_a_doubt_about_the_service_stands_above_everything() -> None:
    doubt = Doubt(DoubtKind.CLOCK, NOW, "the service's clock jumped ahead by 2.0 h")
    made = board([row(BAY, {STRIP: S.RELEASED})], [doubt], SITE, NOW, reader())
    assert made.warnings == (
        "Every gate is suspended, the clock of the service is in doubt: the service's clock jumped ahead by 2.0 h",
    )
    # Nor does a release stand while the round that suspends it has not been.
    assert [(g.key, g.lines[0].cells[0].word) for g in made.groups] == [("look-first", "In doubt")]


def test_a_floor_is_shown_alone_and_all_floors_can_be_chosen() -> None:
    site = make_site(bay=[{**b, "floor": f} for b, f in zip(site_dict()["bay"], ("2", "3"), strict=True)])
    made = board([row(BAY, floor="2"), row(OTHER, floor="3")], (), site, NOW, reader(), "3")
    assert made.floors == ("2", "3")
    assert [line.bay for group in made.groups for line in group.lines] == [OTHER]


def test_further_operations_of_a_site_stand_below_the_three() -> None:
    line = shown(row(BAY, {UNCOVER: S.RELEASED})).groups[0].lines[0]
    assert [c.operation for c in line.cells] == [STRIP, WALK, LOAD]
    assert [(c.name, c.word) for c in line.others] == [("Uncover", "Released")]


def test_the_longest_waiting_stands_first_in_its_group() -> None:
    young = replace(row(BAY), pour=replace(row(BAY).pour, end_ms=NOW - HOUR_MS))
    assert [line.bay for line in shown(young, row(OTHER)).groups[0].lines] == [OTHER, BAY]
