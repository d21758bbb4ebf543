from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from setup_support import SITE, line_of

from shared.toml_lines import Path, line_for, lines_of

TEXT = '''\
# a comment with [brackets] and = signs
site.id = "dotted"
[plan]
"two words" = """
not = "a key"
"""
list = [
  { a = 1, b = "]}" }, # ,]
  { a = [1,
    2], c = 'it''s' },
]
[[bay]]
id = "1"
[bay.sub]
q = 1.5 # hi
[[bay]]
id = '2'
[[bay.sensors]]
deep = { a.b = 1, c = 2026-11-25 07:00:00 }
[[bay.sensors]]
empty = """"""
last = true
'''.replace("'it''s'", "'it'")


def test_every_kind_of_table_and_value_is_found_on_its_line() -> None:
    lines = lines_of(TEXT)
    expected: dict[Path, int] = {
        ("site",): 2,
        ("site", "id"): 2,
        ("plan",): 3,
        ("plan", "two words"): 4,
        ("plan", "list"): 7,
        ("plan", "list", 0): 8,
        ("plan", "list", 0, "b"): 8,
        ("plan", "list", 1, "a"): 9,
        ("plan", "list", 1, "a", 1): 10,
        ("plan", "list", 1, "c"): 10,
        ("bay",): 12,
        ("bay", 0): 12,
        ("bay", 0, "sub", "q"): 15,
        ("bay", 1): 16,
        ("bay", 1, "id"): 17,
        ("bay", 1, "sensors", 0, "deep", "a", "b"): 19,
        ("bay", 1, "sensors", 0, "deep", "c"): 19,
        ("bay", 1, "sensors", 1): 20,
        ("bay", 1, "sensors", 1, "last"): 22,
    }
    assert {path: lines[path] for path in expected} == expected


def paths(value: Any, around: Path = ()) -> set[Path]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return {around}.union(*(paths(v, (*around, k)) for k, v in inner)) - {()}


def test_the_paths_found_are_those_that_tomllib_finds() -> None:
    for text in (TEXT, SITE):
        assert set(lines_of(text)) == paths(tomllib.loads(text))


def test_a_list_of_tables_over_several_lines_knows_the_line_of_each() -> None:
    lines = lines_of(SITE)
    assert lines["bay", 0, "sensors"] == line_of(SITE, "sensors = [")
    assert lines["bay", 0, "sensors", 0, "zone"] == line_of(SITE, "lg-01.1")
    assert lines["bay", 0, "sensors", 1] == lines["bay", 0, "sensors", 2, "zone"] == line_of(SITE, "lg-09.1")


def test_what_is_not_in_the_file_has_the_line_of_the_table_around_it() -> None:
    lines = lines_of(SITE)
    assert line_for(lines, ("plan", "consent_document")) == line_of(SITE, "[plan]")
    assert line_for(lines, ("bay", 1, "sensors", 0, "depth_mm")) == line_of(SITE, "lg-02.1")
    assert line_for(lines, ("nowhere",)) == 1


def repr_of(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


_KEYS = st.text(alphabet="ab.\"' #=é", min_size=1, max_size=4)
_LEAVES = st.one_of(st.integers(0, 9).map(str), st.text(alphabet="a]}\"'#,=\\", max_size=5).map(repr_of))


def _as_list(parts: list[str]) -> str:
    return "[ " + ",\n # note ]\n ".join(parts) + (" ]" if not parts else ", ]")


def _as_table(entries: dict[str, str]) -> str:
    return "{ " + ", ".join(f"{repr_of(k)} = {v}" for k, v in entries.items()) + " }"


_TREES = st.recursive(
    _LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(_as_list), st.dictionaries(_KEYS, inner, max_size=3).map(_as_table)
    ),
    max_leaves=8,
)


@settings(deadline=None)
@given(st.lists(st.dictionaries(_KEYS, _TREES, max_size=3), max_size=4))
def test_any_valid_text_is_followed_to_its_end(tables: list[dict[str, str]]) -> None:
    text = "".join(
        "[[t]]\n" + "".join(f"{repr_of(key)} = {value}\n" for key, value in table.items()) for table in tables
    )
    assert set(lines_of(text)) == paths(tomllib.loads(text))
