"""What is wrong with a field of a form is said in the reader's language and units, and never in the model's words."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from pages_support import SITE
from pydantic import ValidationError

from alerts.site_words import shipped
from cure.dashboard.asked import Visitor
from cure.dashboard.choosing import reader_of
from cure.dashboard.faults import LIMITS, NAMES, PLAIN, fault_said, faults_said, line_said
from cure.dashboard.reader import Reader
from cure.dashboard.rule_lines import LineError, requirement_from
from shared.catalogue import LANGUAGES
from shared.models.acts import PlaceSensor, StrengthTest, Ticket

AT = datetime(2026, 11, 24, 12, tzinfo=UTC)
ENGLISH = re.compile(r"[Ii]nput|[Ss]hould|permitted|valid|pattern|[Ss]tring|Field required")


def reader(language: str) -> Reader:
    return reader_of(shipped(), SITE, Visitor(), {}, language)


def refused(model: type[Ticket | PlaceSensor | StrengthTest], **fields: object) -> ValidationError:
    with pytest.raises(ValidationError) as caught:
        model(at=AT, who="qc", **fields)
    return caught.value


WRONG = (
    refused(Ticket, pour="2-b1-p1", number="", mix="C 32", batched=AT, air_percent=31.0, temperature_c=-11.0),
    refused(Ticket, pour="2-b1-p1", number="n" * 201, mix="c32-f", batched=AT, water_l=-1.0, place="a\nb"),
    refused(PlaceSensor, sensor="lg", bay="2-b1", zone="attic", depth_mm=2001, interval_s=59, required="often"),
    refused(StrengthTest, pour="2-b1-p1", method="guess", mpa=151.0, equivalent_age_h="old"),
)


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_field_is_faulted_in_the_words_of_the_model(language: str) -> None:
    said = [faults_said(error, reader(language)) for error in WRONG]
    assert not [text for text in said if ENGLISH.search(text) or "(fault" in text]
    assert [text.count("; ") + 1 >= len(error.errors()) for text, error in zip(said, WRONG, strict=True)] == [True] * 4


def test_a_limit_stands_with_its_unit_beside_the_words_of_the_form() -> None:
    english, french = reader("en"), reader("fr")
    assert "Air, measured: at most 30.0 %" in faults_said(WRONG[0], english)
    assert "Concrete as delivered: at least -10.0 °C (14.0 °F)" in faults_said(WRONG[0], english)
    assert "Mix, as printed: signs that cannot stand there" in faults_said(WRONG[0], english)
    assert "au plus 2000 mm" in faults_said(WRONG[2], french)
    assert fault_said({"loc": (), "type": "new_kind"}, english) == "-: this cannot be right"


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_line_that_is_no_rule_is_told_in_the_reader_s_words(language: str) -> None:
    for line in ("strength = 3.5", "counted_h = -1.0, at_c = 5.0", "lower_bound_mpa = 'much'"):
        with pytest.raises(LineError) as caught:
            requirement_from("strip", line, (), each_signs=False)
        said = line_said(caught.value, reader(language))
        assert not ENGLISH.search(said), said
        assert "1" in said


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_field_and_kind_of_fault_has_its_words(language: str) -> None:
    voice = reader(language).voice
    keys = {*NAMES.values(), *PLAIN.values(), *(words for _, words in LIMITS.values()), "fault-wrong", "fault-long"}
    assert [key for key in sorted(keys) if not voice.has(key)] == []
