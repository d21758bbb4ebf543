from __future__ import annotations

import re

import pytest
from fluent.runtime import FluentResource
from fluent.syntax import ast

from cure.dashboard.rendering import HERE, asset, environment, static_answer, static_files, words
from shared.catalogue import LANGUAGES

SAID = re.compile(r"say\('([a-z][\w.-]*)'[,)]")


def messages(language: str) -> list[str]:
    resource = FluentResource((HERE / "words" / f"{language}.ftl").read_text(encoding="utf-8"))
    assert not [e for e in resource.body if isinstance(e, ast.Junk)]
    return [e.id.name for e in resource.body if isinstance(e, ast.Message)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_languages_have_the_same_words_each_once(language: str) -> None:
    assert messages(language) == messages("en")
    assert len(set(messages(language))) == len(messages(language))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_page_ever_says_safe(language: str) -> None:
    text = (HERE / "words" / f"{language}.ftl").read_text(encoding="utf-8").casefold()
    found = re.findall(r"\b(?:safe|safely|sûre?|sécuritaire|segur[oa]s?)\b", text)
    assert found == []


@pytest.mark.parametrize("template", environment().list_templates())
def test_every_word_that_a_template_asks_for_is_there(template: str) -> None:
    text = (HERE / "templates" / template).read_text(encoding="utf-8")
    assert [key for key in SAID.findall(text) if not words()["en"].has(key)] == []


@pytest.mark.parametrize("template", environment().list_templates())
def test_no_template_has_a_style_or_a_script_of_its_own(template: str) -> None:
    text = (HERE / "templates" / template).read_text(encoding="utf-8")
    assert not re.search(r"\sstyle=|<style|\son\w+=|<script(?! src=\"{{ asset)|\|safe\b", text)


def test_a_name_from_outside_is_escaped() -> None:
    made = environment().from_string("{{ name }}").render(name="<script>")
    assert made == "&lt;script&gt;"


def test_static_files_go_by_what_is_in_them_and_are_kept() -> None:
    name = asset("page.css").removeprefix("/static/")
    found = static_answer(name, "gzip, br")
    assert found.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert found.headers["Content-Encoding"] == "gzip"
    assert static_answer(name, "").body == (HERE / "static" / "page.css").read_bytes()
    assert static_answer("page.css", "").status_code == 404
    assert sum(len(f.compressed) for name, f in static_files().items() if name.startswith("page-")) < 6_000
