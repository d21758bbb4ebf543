from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
import segno
from cure_support import make_case, placed
from store_support import AIR, BAY, EDGE, T0, make_site

from deploy.labels import A_SHEET, ID_ONLY, PAPERS, QUIET, Label, labels, page, sheets
from shared.models.setup import Zone

SVG = "{http://www.w3.org/2000/svg}"
ADDRESS = "http://site.lan:8080"
BAYS = make_site().bay[:1]
HERE = placed(EDGE, Zone.EXPOSED_EDGE, position="grid C4 & 100 mm in")


def parsed(picture: str) -> ET.Element:
    return ET.fromstring(picture)  # noqa: S314 - our own text


def drawn_modules(path: str) -> list[tuple[int, int]]:
    """Return the dark modules (x, y) of a drawn code, its quiet zone left out."""
    runs = re.findall(r"M(\d+) (\d+)h(\d+)v1h-\3z", path)
    assert "".join(f"M{x} {y}h{n}v1h-{n}z" for x, y, n in runs) == path
    return [(int(x) - QUIET + i, int(y) - QUIET) for x, y, n in runs for i in range(int(n))]


def test_each_bay_stands_before_its_sensors_and_what_was_taken_out_has_no_label() -> None:
    gone = replace(HERE, sensor=AIR, to_ms=T0)
    found = labels(BAYS, [HERE, gone], ADDRESS)
    assert found == [
        Label("BAY 2-b1", ("floor 2", "look, or STOP"), f"{ADDRESS}/bay/2-b1", (ADDRESS, "/bay/2-b1")),
        Label(
            "lg-01.1",
            ("bay 2-b1", "exposed edge", "50 mm deep", "grid C4 & 100 mm in"),
            f"{ADDRESS}/logger/lg-01",
            (ADDRESS, "/logger/lg-01"),
        ),
    ]


def test_without_an_address_the_codes_hold_names_and_say_so() -> None:
    assert [(one.code, one.below) for one in labels(BAYS, [HERE], None)] == [(BAY, (ID_ONLY,)), (EDGE, (ID_ONLY,))]


@pytest.mark.parametrize("paper", PAPERS)
def test_a_sheet_holds_24_labels_inside_the_paper(paper: str) -> None:
    every = labels(BAYS, [HERE], ADDRESS) * 13
    first, second = map(parsed, sheets(every, paper))
    wide, high = PAPERS[paper]
    assert (first.get("width"), first.get("height")) == (f"{wide}mm", f"{high}mm")
    assert [len(sheet.findall(f"{SVG}g")) for sheet in (first, second)] == [A_SHEET, 2]
    cells = [list(map(float, re.findall(r"[\d.]+", g.get("transform", "")))) for g in first.findall(f"{SVG}g")]
    rect = first.find(f".//{SVG}rect")
    assert rect is not None
    box = float(rect.get("width", "")), float(rect.get("height", ""))
    assert max(x + box[0] for x, _ in cells) <= wide - 6.9
    assert max(y + box[1] for _, y in cells) <= high - 12.4


def test_the_code_that_is_drawn_is_the_one_that_is_meant_at_the_highest_level() -> None:
    (label, *_) = labels(BAYS, [], ADDRESS)
    qr = segno.make_qr(label.code, error="h")
    assert (qr.error, qr.symbol_size(border=0)) == ("H", (33, 33))
    (path,) = parsed(sheets([label], "A4")[0]).iter(f"{SVG}path")
    dark = [(x, y) for y, row in enumerate(qr.matrix) for x, module in enumerate(row) if module]
    assert drawn_modules(path.get("d", "")) == dark


def test_words_are_escaped_and_long_ones_get_smaller_not_shorter() -> None:
    long = replace(HERE, position="x" * 120)
    texts = {t.text: t for t in parsed(sheets(labels(BAYS, [long], ADDRESS), "A4")[0]).iter(f"{SVG}text")}
    assert float(texts["x" * 120].get("font-size", "")) < 0.5
    shown = sheets(labels(BAYS, [HERE], ADDRESS), "A4")[0]
    assert "grid C4 &amp; 100 mm in" in shown
    lines = list(parsed(sheets([labels(BAYS, [HERE], ADDRESS)[1]], "Letter")[0]).iter(f"{SVG}text"))
    upper, lower = [[float(t.get("y", "")) for t in part] for part in (lines[:5], lines[5:])]
    assert max(upper) < min(lower) - 2.2


@pytest.mark.parametrize(("paper", "size"), [("A4", "A4"), ("Letter", "letter")])
def test_a_page_prints_one_sheet_a_side(paper: str, size: str) -> None:
    pictures = sheets(labels(BAYS, make_case().placements, ADDRESS) * 6, paper)
    shown = page(pictures, paper, "Millrace <House>: labels")
    assert f"@page{{size:{size};margin:0}}" in shown
    assert shown.count("<svg ") == len(pictures) == 2
    assert "Millrace &lt;House&gt;" in shown
