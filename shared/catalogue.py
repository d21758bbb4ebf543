"""Words by language: Fluent messages, a site's own before the shipped ones, read from disk by whoever has the files.

Every lookup results in a text: a message that cannot be worded in one bundle is looked for in the next, and the last
is the shipped English.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, TypeAlias

from fluent.runtime import FluentBundle
from fluent.runtime.resolver import Pattern
from fluent.syntax import ast

ENGLISH: Final = "en"
LANGUAGES: Final = (ENGLISH, "fr", "es")
SHORTER: Final = ("shorter", "shortest")
"""Attributes with shorter wordings of a message's value."""
_SAID: Final = "said-"
"""Ids of the sentences in which cure explains itself: their English is what is looked for."""
_TEXT: Final = re.compile(r"\s*\n\s*")


@dataclass(frozen=True, slots=True)
class Voice:
    """The words of one language."""

    language: str
    bundles: tuple[FluentBundle, ...]
    sentences: tuple[tuple[re.Pattern[str], str], ...] = ()
    """English sentences of the evidence, with the ids of their words here; none: they are said as they are."""

    def say(self, key: str, /, **said: str | int) -> str:
        """Return the words of "message" or "message.attribute"."""
        return _words(self.bundles, key, said) if said else _fixed(self.bundles, key)

    def has(self, key: str) -> bool:
        """Return whether there are words for a key."""
        return any(_pattern(bundle, key) is not None for bundle in self.bundles)

    def wordings(self, key: str, /, **said: str | int) -> tuple[str, ...]:
        """Return the wordings of a message, from long to short."""
        shorter = (f"{key}.{name}" for name in SHORTER)
        return tuple(self.say(k, **said) for k in (key, *(k for k in shorter if self.has(k))))

    def known(self, sentence: str) -> str:
        """Return a sentence of the evidence in this language where it is known, else as it is."""
        return "; ".join(map(self._known, sentence.split("; "))) if self.sentences else sentence

    def _known(self, sentence: str) -> str:
        for pattern, key in self.sentences:
            found = pattern.fullmatch(sentence)
            if found is not None:
                return self.say(key, **{name: self._known(said) for name, said in found.groupdict().items()})
        return sentence


Catalogue: TypeAlias = Mapping[str, Voice]
"""By language."""


def catalogue(shipped: Mapping[str, ast.Resource], own: Mapping[str, ast.Resource] | None = None) -> Catalogue:
    """Return the words of every shipped language; what a site wrote itself comes first."""
    sentences = tuple(_sentences(shipped[ENGLISH].body))
    voices: dict[str, Voice] = {}
    for language, resource in shipped.items():
        mine = (own or {}).get(language)
        bundles = (
            *(() if mine is None else (_bundle(language, resource, mine),)),
            _bundle(language, resource),
            *(() if language == ENGLISH else (_bundle(ENGLISH, shipped[ENGLISH]),)),
        )
        voices[language] = Voice(language, bundles, () if language == ENGLISH else sentences)
    return voices


def voice_of(words: Catalogue, language: str) -> Voice:
    """Return a language's words; English for one that is not there."""
    return words.get(language) or words[ENGLISH]


def _bundle(language: str, *resources: ast.Resource) -> FluentBundle:
    # No isolation marks: they are no characters of an SMS, and every name is a line of plain text already.
    bundle = FluentBundle([language], use_isolating=False)
    for resource in resources:
        bundle.add_resource(resource, allow_overrides=True)
    return bundle


def _pattern(bundle: FluentBundle, key: str) -> Pattern | None:
    name, _, attribute = key.partition(".")
    if not bundle.has_message(name):
        return None
    message = bundle.get_message(name)
    return message.attributes.get(attribute) if attribute else message.value


@lru_cache(4096)
def _fixed(bundles: tuple[FluentBundle, ...], key: str) -> str:
    """Return words that nothing is put into: the same every time, and asked for by every page."""
    return _words(bundles, key, {})


def _words(bundles: tuple[FluentBundle, ...], key: str, said: Mapping[str, str | int]) -> str:
    texts = (_formatted(bundle, key, said) for bundle in bundles)
    return next((text for text in texts if text is not None), f"({key})")


def _formatted(bundle: FluentBundle, key: str, said: Mapping[str, str | int]) -> str | None:
    pattern = _pattern(bundle, key)
    if pattern is None:
        return None
    text, errors = bundle.format_pattern(pattern, dict(said))
    return None if errors else _TEXT.sub(" ", str(text))


def _sentences(entries: Sequence[ast.EntryType]) -> list[tuple[re.Pattern[str], str]]:
    return [
        (re.compile("".join(map(_expression, entry.value.elements))), entry.id.name)
        for entry in entries
        if isinstance(entry, ast.Message) and entry.id.name.startswith(_SAID) and entry.value is not None
    ]


def _expression(element: ast.TextElement | ast.Placeable) -> str:
    if isinstance(element, ast.TextElement):
        return re.escape(element.value)
    variable = element.expression
    return f"(?P<{variable.id.name}>.+?)" if isinstance(variable, ast.VariableReference) else ".+?"
