from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from shared.allowed import PATTERNS, keys, resolve, words
from shared.models.calibration import Calibration
from shared.models.setup import SiteFile

SCHEMA = SiteFile.model_json_schema()


def patterns(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        if isinstance(node.get("pattern"), str):
            yield node["pattern"]
        for inner in node.values():
            yield from patterns(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from patterns(inner)


def test_every_pattern_of_the_setup_models_has_words_and_no_words_are_left_over() -> None:
    found = set(patterns(SCHEMA)) | set(patterns(Calibration.model_json_schema()))
    assert found == set(PATTERNS)


def said(*loc: str | int) -> str:
    path, node = resolve(SCHEMA, loc)
    return words(SCHEMA, node, str(path[-1]))


def test_choices_ranges_and_units_are_said_in_words() -> None:
    assert said("site", "units") == '"SI" or "US"'
    assert said("site", "interval_s") == "a whole number of s, at least 60, at most 3600"
    assert said("bay", 0, "construction_load_kpa") == "a number of kPa, above 0, at most 20"
    assert said("bay", 0, "cantilever") == "true or false"
    assert said("recipient", 0, "language") == '"en", "fr" or "es"'
    assert said("bay", 3, "neighbours") == "a list of any number, each letters a-z, digits, dashes, 1 to 32 of them"
    assert said("recipient", 0, "channels", 0) == 'a table with its kind: "email", "inbox", "reach" or "webhook"'
    assert said("plan", "sign_offs").startswith("0, 1 or 2; it must be written")


def test_the_kind_of_a_channel_is_no_step_of_the_path() -> None:
    path, node = resolve(SCHEMA, ("recipient", 0, "channels", 1, "email", "to"))
    assert path == ("recipient", 0, "channels", 1, "to")
    assert words(SCHEMA, node, "to").startswith("an e-mail address")


def test_an_unknown_key_ends_at_its_table() -> None:
    path, node = resolve(SCHEMA, ("channel", "email", "hots"))
    assert path == ("channel", "email", "hots")
    assert keys(SCHEMA, node)[:2] == ["host", "port"]


def test_a_rule_is_told_by_its_key_which_is_no_step_of_the_path() -> None:
    path, node = resolve(SCHEMA, ("requirement", 0, "all", 1, "lower_bound_mpa", "lower_bound_mpa"))
    assert path == ("requirement", 0, "all", 1, "lower_bound_mpa")
    assert words(SCHEMA, node, "lower_bound_mpa") == "a number of MPa, at least 1.0, at most 120"
    path, node = resolve(SCHEMA, ("requirement", 0, "all", 0, "any", "any", 1, "all", "all", 0, "warm_h", "at_c"))
    assert path == ("requirement", 0, "all", 0, "any", 1, "all", 0, "at_c")
    assert words(SCHEMA, node, "at_c") == "a number, at least 0, at most 40"


def test_of_a_rule_the_keys_that_tell_one_are_said() -> None:
    whole = said("requirement", 0, "all")
    assert whole.startswith("a list of at least one, each a table with one of: age_h, counted_h, warm_h, ")
    assert said("requirement", 0, "all", 0, "any", "any").startswith("a list of at least 2, each a table with one of: ")
