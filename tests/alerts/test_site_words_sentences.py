"""Every sentence in which cure explains itself has words in every language: found in its source, not in a list here."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final

import pytest

import cure
from alerts.site_words import shipped
from shared.models.readings import Reason
from shared.models.setup import Zone

NAMED: Final = frozenset({"reason", "how", "words", "said"})
"""Variables that hold a sentence on its way to a finding, a doubt or a hold."""
SAYS: Final = {
    "Finding": (0,),
    "doubt": (1,),
    "open_hold": (2, 3),
    "Check": (2,),
    "Warmth": (1,),
    "PlanError": (0,),
    "NoForecast": (1, 2),
}
"""Calls that take sentences, and where."""
NOT_SAID: Final = frozenset({"", "; ", "x1: x1: x1"})
"""Without words of their own: what is put into them has."""
TABLES: Final = "condition_"
"""Modules of a table and a page for the site diary, which are in English: nothing of theirs is in a message."""


def _text(node: ast.expr) -> str | None:
    """Return a literal with a name in place of each value; None for what is no literal."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "x1" for part in node.values)
    return None


def _said(tree: ast.AST) -> Iterator[ast.expr]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and {t.id for t in node.targets if isinstance(t, ast.Name)} & NAMED:
            yield node.value
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            yield from (node.args[i] for i in SAYS.get(name, ()) if i < len(node.args))


@cache
def sentences() -> list[str]:
    """Return every sentence of the package's source, of a doubt with its sensor before it."""
    found = set()
    for path in Path(cure.__path__[0]).glob("*.py"):
        if path.stem.startswith(TABLES):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        of_sensor = path.stem in {"doubts", "placing", "erratic", "castin", "offbeat"}
        for text in filter(None, map(_text, _said(tree))):
            found.add(f"lg-1 (top) {text}" if of_sensor else text)
    return sorted(found - NOT_SAID)


def test_the_source_says_dozens_of_sentences() -> None:
    assert len(sentences()) > 25
    assert "lg-1 (top) goes up and down faster than concrete can" in sentences()


@pytest.mark.parametrize("language", ["fr", "es"])
def test_every_sentence_has_words_in_every_language(language: str) -> None:
    parts = {part for sentence in sentences() for part in sentence.split("; ")} - {"x1"}
    assert [part for part in sorted(parts) if shipped()[language].known(part) == part] == []


@pytest.mark.parametrize("language", ["fr", "es"])
def test_zones_and_reasons_of_refusal_have_words(language: str) -> None:
    known = shipped()[language].known
    assert [one for one in (*Zone, *Reason) if known(one.value) == one.value] == []
    assert "degC" not in known("lg-01.1 felt nothing in 20 min: 8.0 to 9.0 degC")


WIDER: Final = "of the last 30 pours 60 % came inside the 80 % interval as the model has it: the spread is widened by"
FORETOLD: Final = (
    "mix c32-f has no heat data: 320 kg/m3 of cement I taken",
    "lg-15.1 is silent, in its place: lg-01.7",
    "the forecast ends 10 h early and goes on as its last day",
    "the air goes on as the last day",
    "not said, and taken as usual: W",
    "3 past hours without any air: taken from the nearest",
    "the forecast of W is 9 degC off the site's own air: it counts for nothing",
    "the forecast of W is 4 degC off the site's own air: it is widened",
    "no usable weather of W has come yet",
    "the weather of W was made 80 h ago: it counts for nothing any more",
    "the weather of W was made 20 h ago: it is widened",
    "left out of it: W",
    "the last 3 from W could not be used: W",
    "the weather ends after 50 h",
    f"{WIDER} 1.20",
    f"{WIDER} 2.49, which is not enough: the model wants a person to look at it",
    "the end of the pour is not entered; enter the hour of its last concrete",
    "silent: lg-1.1; look at the logger: no gate opens before it speaks again",
    "neither a weather forecast nor an air sensor that spoke in the last 24 h",
    "give the site a source of weather ([weather]), or place an air sensor at the bay",
    "no hour of the weather that is held lies in the time of the pour",
    "look at [weather]: slabhour weather shows what is held",
)
"""What is said of a forecast: why it is wide, or why there is none."""
ENGLISH: Final = frozenset({"the", "of", "it", "is", "at", "taken", "look", "weather", "forecast", "hours", "before"})


@pytest.mark.parametrize("language", ["fr", "es"])
@pytest.mark.parametrize("sentence", FORETOLD)
def test_what_is_said_of_a_forecast_is_said_whole_in_every_language(language: str, sentence: str) -> None:
    # Not by halves, by a pattern of another sentence that lies in it. Names of commands stay.
    said = shipped()[language].known(sentence).replace("[weather]", "").replace("slabhour weather", "")
    assert ENGLISH & {word.strip(":;,()'") for word in said.split()} == set()
