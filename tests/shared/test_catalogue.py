from __future__ import annotations

import pytest
from fluent.runtime import FluentResource
from hypothesis import given
from hypothesis import strategies as st

from alerts.site_words import shipped
from shared.catalogue import LANGUAGES, catalogue, voice_of

ENGLISH = FluentResource("a = one { $n }\n    .shorter = 1 { $n }\nb = bee\nsaid-cold = cold since { $hour }\n")
FRENCH = FluentResource("a = un { $n }\n    .shorter = 1 { $n }\nsaid-cold = froid depuis { $hour }\n")
BOTH = {"en": ENGLISH, "fr": FRENCH}
SHIPPED = shipped()


def test_wordings_go_from_long_to_short() -> None:
    assert voice_of(catalogue(BOTH), "fr").wordings("a", n="x") == ("un x", "1 x")


def test_what_a_language_lacks_is_said_in_english() -> None:
    assert voice_of(catalogue(BOTH), "fr").say("b") == "bee"


def test_a_site_s_message_that_fails_gives_way_to_the_shipped_one() -> None:
    own = FluentResource("a = mien { $missing }\nb = abeille\n")
    voice = voice_of(catalogue(BOTH, {"fr": own}), "fr")
    assert voice.say("a", n="x") == "un x"
    assert voice.say("b") == "abeille"


def test_a_key_that_nobody_has_is_still_a_text() -> None:
    assert voice_of(catalogue(BOTH), "fr").say("none.such") == "(none.such)"


@pytest.mark.parametrize(
    ("english", "french"),
    [
        ("cold since 02:00", "froid depuis 02:00"),
        ("cold since 02:00; bee", "froid depuis 02:00; bee"),
        ("very cold since 02:00", "very cold since 02:00"),
    ],
)
def test_a_known_sentence_is_said_in_the_language_and_any_other_as_it_is(english: str, french: str) -> None:
    assert voice_of(catalogue(BOTH), "fr").known(english) == french
    assert voice_of(catalogue(BOTH), "en").known(english) == english


@given(st.text(max_size=60), st.sampled_from(LANGUAGES))
def test_met_never_becomes_not_met_nor_the_other_way(rule: str, language: str) -> None:
    voice = voice_of(SHIPPED, language)
    name = " ".join("".join(c if c.isprintable() else " " for c in rule).split()).replace(" - ", " ").replace("; ", " ")
    negative = {"en": "not met", "fr": "non satisfait", "es": "no cumplido"}[language]
    positive = {"en": "met", "fr": "satisfait", "es": "cumplido"}[language]
    for found in (f"{name or 'x'}: 3 - ", f"{name or 'x'}: 3, needs 4 - "):
        assert voice.known(f"{found}not met").endswith(f"- {negative}")
        assert voice.known(f"{found}met").endswith(f"- {positive}")
