"""Every rule has words in every language, in the units of whoever reads."""

from __future__ import annotations

from typing import get_args

import pytest
from pages_support import SITE

from alerts.site_words import shipped
from cure.dashboard.asked import Visitor
from cure.dashboard.choosing import reader_of
from cure.dashboard.reader import Reader
from cure.dashboard.rule_lines import EXAMPLES
from cure.dashboard.rule_words import said
from cure.dashboard.visitors import LANGUAGE, UNITS
from shared.models import requirement as r

MORE: tuple[r.Rule, ...] = (
    r.TestsRule(tested_percent=75.0, method="cylinder"),
    r.TestsRule(tested_mpa=7.0, method="in slab", at_least=3),
    r.SurfaceNearAirRule(surface_within_c=11.0),
    r.DropRule(drop_c=28.0, over_h=24.0),
    r.ConsentRule(consent=True),
    r.AllRule(all=(r.AgeRule(age_h=24.0), r.StrengthRule(lower_bound_mpa=3.5))),
)
EVERY = (*(rule for _, rule in EXAMPLES), *MORE)


def reader(language: str = "en", units: str = "SI") -> Reader:
    return reader_of(shipped(), SITE, Visitor(), {LANGUAGE: language, UNITS: units}, "")


def test_there_is_an_example_of_every_rule() -> None:
    assert {type(rule) for rule in EVERY} == set(get_args(r.Rule))


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_every_rule_has_words(language: str) -> None:
    words = [said(rule, reader(language)) for rule in EVERY]
    assert len(set(words)) == len(words)
    assert [text for text in words if "(rule-" in text] == []
    english = [said(rule, reader()) for rule in EVERY]
    assert language == "en" or not set(words) & set(english)


def test_a_limit_stands_first_in_the_units_of_whoever_reads() -> None:
    rule = r.CountedRule(counted_h=24.0, at_c=5.0)
    assert said(rule, reader()) == "24.0 h counted at or above 5.0 °C (41.0 °F)"
    assert said(rule, reader(units="US")) == "24.0 h counted at or above 41.0 °F (5.0 °C)"
    assert said(EXAMPLES[-1][1], reader()) == (
        "(lower bound of strength at least 7.0 MPa (1016 psi)) or "
        "(72.0 h since the end of the pour; the engineer's written consent on file)"
    )
