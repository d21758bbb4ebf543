"""The record as a PDF: sound, archival, tagged, with its evidence inside, and the same bytes from the same input."""

from __future__ import annotations

import hashlib
import json
import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from record_support import KINDS, asked, needs_tools, released, text_of, with_fact

from cure.dashboard.record import render
from cure.dashboard.record_facts import Source, readings_csv

NASTY = '#eval("1") *b* $x$ "quoted" \\ </text> <@ref'


@pytest.fixture(scope="module", params=sorted(KINDS))
def source(request: pytest.FixtureRequest) -> Source:
    made: Source = KINDS[request.param]()
    return made


@pytest.fixture(scope="module")
def pdf(source: Source) -> bytes:
    return render(source)


def test_the_same_input_gives_the_same_bytes(source: Source, pdf: bytes) -> None:
    assert render(source) == pdf
    assert pdf.startswith(b"%PDF-1.7")


@needs_tools
def test_qpdf_finds_it_sound(pdf: bytes, tmp_path: Path) -> None:
    path = tmp_path / "record.pdf"
    path.write_bytes(pdf)
    assert "No syntax or stream encoding errors found" in asked("qpdf", "--check", path)


@needs_tools
def test_it_says_that_it_is_pdf_a_3a_and_pdf_ua_1_and_is_tagged(pdf: bytes, tmp_path: Path) -> None:
    path = tmp_path / "record.pdf"
    path.write_bytes(pdf)
    told = asked("pdfinfo", path)
    assert re.search(r"Tagged:\s+yes", told)
    meta = asked("pdfinfo", "-meta", path)
    assert "<pdfaid:part>3</pdfaid:part>" in meta
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in meta
    assert "<pdfuaid:part>1</pdfuaid:part>" in meta


@needs_tools
def test_every_font_is_inside(pdf: bytes, tmp_path: Path) -> None:
    path = tmp_path / "record.pdf"
    path.write_bytes(pdf)
    rows = asked("pdffonts", path).splitlines()[2:]
    assert rows
    # Columns from the right: object number, generation, unicode, subset, embedded.
    assert [row for row in rows if row.split()[-5] != "yes"] == []


@needs_tools
def test_decision_and_readings_are_inside_and_the_foot_proves_them(source: Source, pdf: bytes, tmp_path: Path) -> None:
    said = text_of(pdf, tmp_path)
    listed = asked("pdfdetach", "-list", tmp_path / "record.pdf")
    assert re.findall(r"\d+: (\S+)", listed) == ["decision.json", "readings.csv"]
    asked("pdfdetach", "-saveall", "-o", tmp_path, tmp_path / "record.pdf")
    decision, readings = (tmp_path / name for name in ("decision.json", "readings.csv"))
    digest = hashlib.sha256(decision.read_bytes()).hexdigest()
    assert f"sha256 of decision.json {digest}" in said
    body = json.loads(decision.read_text(encoding="utf-8"))
    assert body["readings_sha256"] == hashlib.sha256(readings.read_bytes()).hexdigest()
    assert readings.read_bytes() == readings_csv(source.view)
    assert body["kind"] == source.message.kind
    assert body["evidence"] == source.evidence


@needs_tools
def test_the_sheet_says_what_was_decided_by_what_evidence_and_every_caution(
    source: Source, pdf: bytes, tmp_path: Path
) -> None:
    said = text_of(pdf, tmp_path)
    assert "record 42" in said
    assert f"Bay {source.message.facts['bay']}" in said
    for sentence in source.message.facts["findings"]:
        rule, _, rest = sentence.partition(": ")
        assert rule in said
        assert rest.rpartition(" - ")[0] in said
    for caution in source.cautions:
        assert caution in said
    assert source.message.code in said
    assert source.message.log_hash in said
    assert "Quality control" in said


@needs_tools
def test_a_second_sheet_never_bears_cautions_and_signatures_alone(tmp_path: Path) -> None:
    source = released()
    path = tmp_path / "long.pdf"
    path.write_bytes(render(replace(source, cautions=(*source.cautions, *["One caution more."] * 14))))
    second = asked("pdftotext", "-f", "2", "-layout", path, "-")
    assert "Cautions" in second
    assert "Temperature" in second.partition("Cautions")[0]


@needs_tools
def test_all_of_a_release_stands_on_one_sheet(tmp_path: Path) -> None:
    assert "page 1 of 1" in text_of(render(released()), tmp_path)


@needs_tools
def test_nothing_from_outside_is_read_as_markup(tmp_path: Path) -> None:
    source = with_fact(released(), site=NASTY, exclusions=NASTY, floor=NASTY)
    said = text_of(render(replace(source, cautions=(NASTY,))), tmp_path)
    # Quotation marks stay as they were: nothing of it was set as text of a template.
    assert said.count(NASTY) >= 3


@needs_tools
def test_degrees_limits_accents_and_ticks_have_their_signs(tmp_path: Path) -> None:
    words = "Vérifié à 5 °C, ≥ 3.5 MPa, español ñ ¿sí?, œuvre, ½, …"
    source = with_fact(released(), exclusions=words)
    said = text_of(render(source), tmp_path)
    assert words in said
    assert "✓ met" in said


def test_neither_records_nor_charts_load_pandas_or_scipy() -> None:
    loaded = "import cure.dashboard.record, cure.dashboard.calibration_chart, sys; print(*sys.modules)"
    found = asked(sys.executable, "-c", loaded).split()
    assert "cure.dashboard.pour_view" in found
    assert {"pandas", "scipy"} & set(found) == set()


def test_without_an_address_there_is_no_code_to_scan() -> None:
    source = released()
    with_code, without = render(source), render(replace(source, address=None))
    assert len(without) < len(with_code)
