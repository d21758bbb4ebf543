from __future__ import annotations

import pytest
from pages_support import OTHER, row
from store_support import BAY

from cure.dashboard.rendering import words
from cure.dashboard.signs import KEEP_OFF, SHAPES, SIGNS, STOPPED, TRUE_ONLY_TODAY, Sign, sign_of
from shared.catalogue import LANGUAGES
from shared.models.base import LOAD, STRIP, WALK
from shared.models.decisions import GateState

ALL = {**{state.value: sign for state, sign in SIGNS.items()}, "keep off": KEEP_OFF, "stopped": STOPPED}


def test_every_state_has_a_sign() -> None:
    assert set(SIGNS) == set(GateState)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("sign", ALL.values(), ids=ALL)
def test_every_sign_has_its_own_words_in_every_language(sign: Sign, language: str) -> None:
    voice = words()[language]
    assert voice.bundles[0].has_message(sign.word)
    assert len(voice.say(sign.word)) <= 24


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("state", GateState)
def test_every_state_is_explained_in_every_language(state: GateState, language: str) -> None:
    assert words()[language].bundles[0].has_message(f"key-{state.value.replace(' ', '-')}")


def test_no_two_states_share_a_shape_and_every_shape_is_drawn() -> None:
    shapes = [sign.shape for sign in SIGNS.values()]
    assert len(set(shapes)) == len(shapes)
    assert set(SHAPES) == {sign.shape for sign in ALL.values()}


def test_nothing_but_a_release_wears_the_fill_of_one() -> None:
    filled = {state for state, sign in SIGNS.items() if sign.fill == "released"}
    assert filled == {GateState.RELEASED, GateState.UNDER_WAY}
    assert KEEP_OFF.fill != "released" != STOPPED.fill


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_word_of_another_state_is_the_word_of_a_release(language: str) -> None:
    say = words()[language].say
    others = [say(sign.word).casefold() for name, sign in ALL.items() if name != "released"]
    assert [word for word in others if word.startswith(say("sign-released").casefold())] == []


def test_a_strip_at_the_bay_or_near_it_keeps_everybody_else_off() -> None:
    at_it = row(BAY, {STRIP: GateState.UNDER_WAY, WALK: GateState.RELEASED, LOAD: GateState.DONE})
    near = row(BAY, {WALK: GateState.RELEASED}, stripping=(OTHER,))
    for found in (at_it, near):
        assert sign_of(found, WALK, stopped=False) is sign_of(found, LOAD, stopped=False) is KEEP_OFF
    assert sign_of(at_it, STRIP, stopped=False) is SIGNS[GateState.UNDER_WAY]
    assert sign_of(near, STRIP, stopped=False) is SIGNS[GateState.CURING]


@pytest.mark.parametrize("state", GateState)
def test_what_nobody_looks_at_any_more_is_never_shown_as_released(state: GateState) -> None:
    sign = sign_of(row(BAY, {STRIP: state}), STRIP, stopped=True)
    assert sign is (STOPPED if state in TRUE_ONLY_TODAY else SIGNS[state])
    assert sign.fill != "released"
