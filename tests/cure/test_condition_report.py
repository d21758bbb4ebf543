from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
from cure_support import CONCRETE, END_MS, make_case, recorded
from hypothesis import given, settings
from hypothesis import strategies as st
from store_support import AIR, BAY, EDGE, END, make_pour, make_site, site_dict

from cure.condition_report import BINDS, CURED, RATIO, as_json, lines, page, told
from cure.condition_seen import Given, Observed, observed
from cure.condition_table import Kept
from shared.models.base import HOUR_MS
from shared.models.decisions import Hold, HoldKind, Placement
from shared.models.readings import Series
from shared.models.setup import Zone


def looked(hours: float = 30.0, **changes: Any) -> Observed:
    readings = {s: recorded(18.0 - i, hours, from_h=-1) for i, s in enumerate(CONCRETE)}
    readings[AIR] = recorded(4.0, hours, from_h=-24 * 6)
    now_ms = END_MS + round(hours * HOUR_MS)
    return observed(make_case(**changes), readings, [], now_ms, elapsed_ms=round(hours * HOUR_MS))


def test_everything_that_is_watched_beside_strength_has_its_row() -> None:
    quantities = " | ".join(row.quantity for row in told(looked(), Given()).rows)
    for named in (
        "strength before freezing", "coldest", "hottest", "between sensors", "drop in 24 h after strip or uncovering",
        "curing, ACI 308", "curing, EN 13670, class 2", "curing, EN 13670, class 3", "curing, EN 13670, class 4",
        "curing, DIN 1045-3", "evaporation", "cold weather, older", "cold weather, newer", "as delivered",
        "hot weather",
    ):  # fmt: skip
        assert named in quantities


def test_the_log_has_two_lines_a_day_of_the_site_with_hour_air_surface_and_extremes() -> None:
    told_lines = lines(told(looked(), Given()))
    assert (
        "    Tue 25 Nov 08:00 UTC-0400  4.0 °C (39.2 °F)  16.0 °C (60.8 °F)  16.0 °C (60.8 °F)  18.0 °C (64.4 °F)"
        in (told_lines)
    )
    assert [line.split("UTC")[0].strip() for line in told_lines if line.startswith("    ")] == [
        "Mon 24 Nov 16:00", "Tue 25 Nov 08:00", "Tue 25 Nov 16:00",
    ]  # fmt: skip


def test_an_exchanged_sensor_does_not_make_the_surface_of_the_log_unknown_for_ever() -> None:
    gone = Placement(EDGE, BAY, Zone.TOP, 20, 900, required=True, to_ms=END_MS + 4 * HOUR_MS)
    others = tuple(p for p in make_case().placements if p.sensor != EDGE)
    log = told(looked(placements=(gone, *others)), Given()).log
    # It lay at the top and was there at the first line only; what it read stays in the extremes of a day.
    assert [line.surface_c for line in log] == [18.0, 16.0, 16.0]
    assert [line.high_c for line in log] == [18.0, 18.0, 18.0]


def test_what_is_not_known_is_null_for_other_programs() -> None:
    o = observed(make_case(pour=make_pour()), {}, [], END_MS + 30 * HOUR_MS, elapsed_ms=None)
    found = json.loads(json.dumps(as_json(told(o, Given())), allow_nan=False))
    assert {row["kept"] for row in found["rows"]} == {"not known"}
    assert {row["value"] for row in found["rows"]} == {None}
    assert {line["surface_c"] for line in found["log"]} == {None}
    assert (found["bay"], found["floor"], found["pour"]) == ("2-b1", "2", "2-b1-p1")


def test_every_row_has_its_weight_and_source_for_other_programs() -> None:
    found = as_json(told(looked(), Given(60.0, 3.0, 20.0, 0.5)))["rows"]
    assert {row["weight"] for row in found} == {"rule", "advice", None}
    assert [row["quantity"] for row in found if row["kept"] != Kept.NO_LIMIT and len(row["source"]) < 10] == []


def test_holds_doubts_and_lowered_readings_are_noted() -> None:
    hold = Hold(HoldKind.FREEZE_SUSPECTED, END_MS, "qc", "cold before 3.5 MPa", "measure the surface")
    inside = tuple(replace(p, zone=Zone.INTERIOR) for p in make_case().placements if p.sensor != AIR)
    notes = told(looked(holds=(hold,), placements=inside), Given()).notes
    assert notes[0] == "freeze suspected: cold before 3.5 MPa (qc: measure the surface)"
    assert "no required sensor at the exposed edge: cold is taken as 1.5 °C (2.7 °F) colder than read" in notes
    assert notes[-2:] == (RATIO, CURED)
    assert RATIO not in told(looked(), Given(strength_ratio=0.5)).notes
    stuck = {EDGE: recorded(lambda h: 20.0 - 0.3 * h, 12, from_h=-1), END: recorded(25.0, 12, from_h=-1)}
    stuck[AIR] = recorded(lambda h: 10.0 - 0.5 * h, 12, from_h=-1)
    o = observed(make_case(), stuck, [], END_MS + 12 * HOUR_MS, elapsed_ms=12 * HOUR_MS)
    assert o.evidence.not_counted == {END}
    assert any(
        n.startswith("not believed, and left out of heat, drops and differences: lg-02.1")
        for n in told(o, Given()).notes
    )


def test_the_page_has_table_log_plot_and_cautions() -> None:
    text = page("Millrace House", [told(looked(), Given())], "the usual caution")
    assert text.startswith("<!doctype html>")
    assert text.endswith("</html>\n")
    for part in ("<svg", "Cold-weather log", "sky (by hand)", BINDS, "the usual caution", "EN 13670, annex F"):
        assert part in text
    assert text.index("the usual caution") > text.index("Notes")
    assert "no open pour" in page("Millrace House", [], "c")


@settings(max_examples=40)
@given(
    st.lists(
        st.lists(st.tuples(st.integers(-20, 200), st.integers(-40_000, 80_000)), max_size=40), min_size=4, max_size=4
    ),
    st.integers(-10, 200),
    st.sampled_from([None, 0.0, 0.2, 1.0]),
    st.booleans(),
)
def test_whatever_was_read_is_told_without_a_number_that_is_none(
    records: list[list[tuple[int, int]]], quarters: int, ratio: float | None, ended: bool
) -> None:
    readings = {
        sensor: Series(*(np.array(column, np.int64) for column in zip(*sorted(dict(rows).items()), strict=True)))
        for sensor, rows in zip((*CONCRETE, AIR), records, strict=True)
        if rows
    }
    readings = {s: Series(END_MS + r.taken_ms * 900_000, r.milli_c) for s, r in readings.items()}
    site = make_site(site={**site_dict()["site"], "units": "US"})
    case = make_case(site, pour=make_pour(end_ms=END_MS if ended else None))
    now_ms = END_MS + quarters * 900_000
    o = observed(case, readings, [], now_ms, elapsed_ms=max(0, now_ms - END_MS) if ended else None)
    found = told(o, Given(60.0, 3.0, 20.0, ratio))
    text = json.dumps(as_json(found), allow_nan=False) + "".join(lines(found)) + page("x", [found], "c")
    assert "nan" not in text
    assert "inf" not in text.replace("infer", "")
    for row in found.rows:
        assert (row.value is None) >= (row.kept is Kept.NOT_KNOWN)


def test_names_of_a_site_cannot_put_markup_into_the_page() -> None:
    bay = {**site_dict()["bay"][0], "floor": "<b>2"}
    site = make_site(bay=[bay, site_dict()["bay"][1]])
    case = make_case(site)
    o = observed(case, {}, [], END_MS, elapsed_ms=0)
    text = page("<i>House", [told(o, Given())], "<u>")
    assert "<b>" not in text
    assert "<i>" not in text
    assert "<u>" not in text
