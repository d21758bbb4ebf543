"""Help says what every sign and word means, to anybody."""

from __future__ import annotations

from pages_support import Bench

from cure.dashboard.help_pages import WORDS
from cure.dashboard.rendering import words
from shared.models.decisions import GateState


def test_every_sign_and_word_is_explained_to_anybody_in_every_language(bench: Bench) -> None:
    for language, voice in words().items():
        browser = bench.browser()
        browser.cookies.set("slabhour_language", language)
        text = browser.get("/help").text
        for state in GateState:
            assert voice.say(f"key-{state.value.replace(' ', '-')}").split("'")[0] in text
        for word in WORDS:
            assert voice.has(f"word-{word}"), word
            assert voice.has(f"word-{word}.means"), word
        assert "(word-" not in text
