from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

import pytest
from wording_golden import several
from wording_support import CHART, EVERY_LANGUAGE, told

from alerts.wording import words, words_together
from shared.catalogue import LANGUAGES
from shared.models.messages import MessageKind

VOID = {"meta", "br"}


class Reader(HTMLParser):
    """Reads a document as a mail reader does: text in order, and whether every tag is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if data.strip() and "title" not in self.open:
            self.texts.append(data.strip())


def read(html: str | None) -> Reader:
    reader = Reader()
    reader.feed(html or "")
    reader.close()
    assert reader.open == []
    return reader


@pytest.mark.parametrize(("kind", "operation", "done", "language"), EVERY_LANGUAGE)
def test_it_says_what_the_body_says_the_verdict_first_the_caution_last(
    kind: MessageKind, operation: str, done: bool, language: str
) -> None:
    text = words(told(kind, operation, done=done), repeat=False, language=language)
    reader = read(text.html)
    lines = [line.removeprefix("- ") for line in text.body.strip().split("\n") if line]
    assert reader.texts[0] == lines[0]
    assert reader.texts[-1] == lines[-1]
    said = set(reader.texts)
    for line in lines:
        label, _, value = line.partition(": ")
        assert line in said or {label.strip(), value} <= said, line
    assert ("html", {"lang": language}) in reader.tags


@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_in_it_comes_from_elsewhere(language: str) -> None:
    for kind in MessageKind:
        reader = read(words(told(kind), repeat=False, language=language).html)
        for tag, attributes in reader.tags:
            assert tag not in {"img", "script", "link", "iframe", "a", "object", "form", "style"}
            assert not {"src", "href", "background", "action"} & set(attributes)
            assert not any(name.startswith("on") for name in attributes)
            assert "url(" not in (attributes.get("style") or "")


@pytest.mark.row("M9")
def test_what_people_wrote_is_text_and_never_markup() -> None:
    odd: dict[str, Any] = {"cause": '<script>x</script> & "y"', "site": "<b>A</b>", "bay": "</h1><img src=x>"}
    text = words(told(MessageKind.WITHDRAWAL, "strip", **odd), repeat=False)
    reader = read(text.html)
    assert not {"script", "b", "img"} & {tag for tag, _ in reader.tags}
    assert 'Cause: <script>x</script> & "y"' in reader.texts


def test_the_chart_is_a_table_with_its_numbers_and_what_is_needed() -> None:
    reader = read(words(told(MessageKind.RELEASED, "strip"), repeat=False).html)
    said = " | ".join(reader.texts)
    assert "Coldest concrete and lower bound of strength by hour | Hours | Coldest | Lower bound of strength" in said
    assert "24.0 h | 8.0 °C (46.4 °F) | 3.5 MPa (520 psi)" in said, "what was found is rounded down"
    assert "needed | 3.5 MPa (508 psi)" in said
    bars = [int(a["width"] or 0) for tag, a in reader.tags if tag == "td" and "width" in a]
    assert bars == sorted(bars[:-1]) + bars[-1:]
    assert max(bars) <= 200


def test_a_long_chart_is_thinned_and_keeps_its_newest_hour() -> None:
    hours = [float(n) for n in range(100)]
    chart = {"hours": hours, "coldest_c": hours, "bound_mpa": hours, "limit_mpa": None}
    reader = read(words(told(MessageKind.RELEASED, "strip", chart=chart), repeat=False).html)
    shown = [t for t in reader.texts if t.endswith(" h")]
    assert shown[-1] == "99.0 h"
    assert len(shown) <= 12


@pytest.mark.parametrize(
    "chart",
    [
        None,
        {},
        [],
        "x",
        {"hours": [1.0]},
        {**CHART, "hours": []},
        {**CHART, "bound_mpa": ["a"] * 5},
        {**CHART, "hours": None},
    ],
)
def test_without_numbers_there_is_no_chart(chart: object) -> None:
    html = words(told(MessageKind.RELEASED, "strip", chart=chart), repeat=False).html
    assert html is not None
    assert "<caption" not in html


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), None, True, "3", -5.0, 1e300])
def test_a_number_that_is_none_leaves_its_hour_out_and_never_breaks_a_bar(bad: object) -> None:
    chart = {**CHART, "bound_mpa": [bad, 0.4, 1.6, 2.9, 3.59], "limit_mpa": bad}
    reader = read(words(told(MessageKind.RELEASED, "strip", chart=chart), repeat=False).html)
    bars = [int(a["width"] or 0) for tag, a in reader.tags if tag == "td" and "width" in a]
    assert all(0 <= bar <= 200 for bar in bars)


def test_several_bays_have_a_chart_each() -> None:
    html = words_together(several(), repeat=False).html
    assert html is not None
    for n in (1, 2, 3):
        assert f"Bay 2-b{n}, Coldest concrete and lower bound" in html
