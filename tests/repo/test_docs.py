"""README cannot fall behind: a setting, a word or a command that it does not name fails here.

The form that README keeps: under "## Settings" one heading a table of the site file, named as in the file, and under it
a Markdown table whose rows begin with the field in backticks: | `interval_s` | ... |
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel
from repo_support import ROOT

from cure import limits
from cure.curing import CURING
from cure.maturity import LAWS
from cure.strength import CURVES
from deploy.bench.rows import BENCHMARKS
from shared.models import calibration, files, heat, payloads, people, requirement, setup, stores, weather
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import DeliveryState, MessageKind
from shared.models.readings import Reason

TABLES: Mapping[str, tuple[type[BaseModel], ...]] = {
    "[site]": (setup.SiteSettings,),
    "[plan]": (setup.PlanSettings,),
    "[stores]": (stores.StoresSettings, stores.StoreSettings, stores.InfluxSettings, stores.PostgresqlSettings),
    "[broker]": (setup.BrokerSettings,),
    "[web]": (setup.WebSettings,),
    "[[topic]]": (payloads.SenmlTopic, payloads.TextTopic, payloads.JsonTopic),
    "[[mix]]": (setup.MixSettings,),
    "[mix.heat]": (heat.HeatSettings,),
    "[[bay]]": (setup.BaySettings,),
    "sensors": (setup.SensorSettings,),
    "[[sensor_type]]": (setup.SensorTypeSettings,),
    "[[recipient]]": (people.RecipientSettings,),
    "channels": (people.EmailAddress, people.InboxFile, people.WebhookUrl, people.ReachUrl),
    "[channel]": (people.ChannelsSettings,),
    "[channel.email]": (people.EmailServer,),
    "[[requirement]]": (requirement.Requirement,),
    "rules": get_args(requirement.Rule),
    "[heartbeat]": (setup.HeartbeatSettings,),
    "[backup]": (setup.BackupSettings,),
    "[retention]": (setup.RetentionSettings,),
    "[laboratory]": (setup.LaboratorySettings,),
    "[weather]": get_args(weather.WeatherSettings),
    "[weather.map]": (weather.WeatherMap,),
    "[incoming]": (files.ColumnMap, files.SensorColumn),
    "calibration": (
        calibration.Calibration,
        calibration.OwnCylinders,
        *get_args(calibration.CurveParameters),
        *get_args(calibration.ContractLaw),
    ),
}
HOLDERS = {setup.SiteFile}
"""Models that only hold the tables above."""

WORDS: tuple[str, ...] = (
    "site", "floor", "bay", "pour", "mix", "calibration", "logger", "sensor", "placement", "zone", "reading", "gap",
    "maturity", "equivalent age", "counted hours", "strength in place", "lower bound", "operation", "requirement",
    "finding", "decision", "hold", "sign-off", "release", "withdrawal", "delay", "message", "delivery", "recipient",
    "record", "verification", "order",
)  # fmt: skip


def sections(text: str, level: str) -> dict[str, str]:
    """Return the text below each heading of a level, by heading."""
    parts = re.split(rf"^{level} (.+)$", text, flags=re.MULTILINE)
    return {title.strip(): body for title, body in zip(parts[1::2], parts[2::2], strict=True)}


@pytest.fixture(scope="module")
def readme() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def section(readme: str, title: str) -> str:
    found = {name: body for name, body in sections(readme, "##").items() if name.casefold() == title.casefold()}
    assert found, f'README has no section "## {title}"'
    return next(iter(found.values()))


def rows(body: str) -> dict[str, str]:
    """Return the rows of the Markdown tables in a text, by the name in backticks or bold that begins each."""
    found = re.findall(r"^\|\s*(?:`([^`|]+)`|\*\*([^*|]+)\*\*)\s*\|(.*)$", body, re.MULTILINE)
    return {code or bold: rest for code, bold, rest in found}


def reachable(model: type[BaseModel], found: frozenset[type[BaseModel]] = frozenset()) -> frozenset[type[BaseModel]]:
    if model in found:
        return found
    found |= {model}
    for field in model.model_fields.values():
        for inner in named_in(field.annotation):
            found = reachable(inner, found)
    return found


def named_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from named_in(inner)


def test_every_model_of_the_site_file_has_its_table() -> None:
    written = {model for models in TABLES.values() for model in models}
    assert reachable(setup.SiteFile) | reachable(calibration.Calibration) == written | HOLDERS


@pytest.mark.parametrize("table", TABLES)
def test_every_field_has_a_row_with_its_default_its_limits_and_its_choices(readme: str, table: str) -> None:
    headings = sections(section(readme, "Settings"), "###")
    body = "\n".join(text for title, text in headings.items() if table in title.replace("`", ""))
    assert body, f'README, "Settings": no heading "### {table}"'
    found = rows(body)
    for model in TABLES[table]:
        whole = model.model_json_schema()
        # One that holds itself is told by reference.
        own = whole if "properties" in whole else whole["$defs"][model.__name__]
        for name, schema in own["properties"].items():
            assert name in found, f"README, {table}: no row for `{name}`"
            missing = [word for word in promised(schema, whole) if word not in plain(found[name])]
            assert not missing, f"README, {table}, `{name}`: the row lacks {missing}"


def plain(row: str) -> str:
    """Return a row without thousands separators."""
    return re.sub(r"(?<=\d)[ ,\u202f\u00a0](?=\d{3})", "", row)


def referred(schema: Mapping[str, Any], whole: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the schema that a reference leads to."""
    while "$ref" in schema:
        schema = whole["$defs"][schema["$ref"].rpartition("/")[2]]
    return schema


def promised(schema: Mapping[str, Any], whole: Mapping[str, Any]) -> list[str]:
    """Return what a row must say: default, limits, choices."""
    schema = referred(schema, whole)
    plain_ways = [inner for inner in schema.get("anyOf", ()) if "$ref" not in inner or "enum" in referred(inner, whole)]
    words = [word for inner in plain_ways for word in promised(inner, whole)]
    words += [f"{schema[key]:g}" for key in LIMITS if key in schema]
    choices = (*schema.get("enum", ()), *([schema["const"]] if "const" in schema else ()))
    words += [str(choice).lower() if isinstance(choice, bool) else str(choice) for choice in choices]
    default = schema.get("default")
    if isinstance(default, bool):
        words.append(str(default).lower())
    elif isinstance(default, str | int | float):
        words.append(str(default))
    return words


DOCUMENTS = ("README.md", "DEVELOPERS.md", "deploy/SCALING.md", "deploy/CHANGELOG.md")
LIMITS = ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum")


def test_no_row_is_left_of_a_setting_that_is_gone(readme: str) -> None:
    known = {name for models in TABLES.values() for model in models for name in model.model_fields}
    assert set(rows(section(readme, "Settings"))) - known == set()


def test_the_reference_has_every_law_curve_and_curing_rule(readme: str) -> None:
    found = rows(section(readme, "Reference"))
    names = re.findall(r"^\| `([^`]+)`", section(readme, "Reference"), re.MULTILINE)
    assert {*LAWS, *CURVES, *CURING} - set(names) == set()
    for name, rule in CURING.items():
        days = ["/".join(f"{d:g}" for d in row) for _, row in rule.days]
        assert [d for d in days if f"{d} d" not in found[name]] == []
        assert f"| {rule.weight} |" in found[name]


def test_the_reference_has_every_limit_with_its_value_and_weight(readme: str) -> None:
    found = rows(sections(section(readme, "Reference"), "###")["Limits on the condition of concrete"])
    assert set(found) - {"limit"} == set(limits.LIMITS)
    for name, limit in limits.LIMITS.items():
        way = "at least" if limit.at_least else "at most"
        assert f"{way} {limit.value:g} " in found[name], name
        assert f"| {limit.weight} |" in found[name], name


def test_the_glossary_has_every_word(readme: str) -> None:
    glossary = section(readme, "Words").casefold()
    assert [word for word in WORDS if f"**{word}" not in glossary] == []


def test_every_state_of_a_gate_is_explained(readme: str) -> None:
    assert set(rows(section(readme, "States of a gate"))) == {state.value for state in GateState}


@pytest.mark.parametrize("names", [HoldKind, MessageKind, DeliveryState, Reason, people.Role, setup.Zone])
def test_every_word_that_the_software_shows_is_in_readme(readme: str, names: type[StrEnum]) -> None:
    text = readme.casefold()
    assert [name.value for name in names if name.value.casefold() not in text] == []


def commands_named(readme: str) -> set[str]:
    code = "\n".join(re.findall(r"```.*?```|`[^`\n]+`", readme, re.DOTALL))
    return set(re.findall(r"\bslabhour ([a-z][a-z-]*)", code))


@pytest.fixture(scope="module")
def commands() -> set[str]:
    script = Path(sys.executable).with_name("slabhour")
    told = subprocess.run([str(script), "--help"], capture_output=True, text=True, check=True, timeout=60).stdout
    listed = set(re.findall(r"^    ([a-z][a-z-]*)(?:  |$)", told, re.MULTILINE))
    assert {"serve", "replay"} <= listed, told
    return listed


def test_every_command_that_readme_names_exists(readme: str, commands: set[str]) -> None:
    assert commands_named(readme) - commands == set()


def test_every_command_is_in_readme(readme: str, commands: set[str]) -> None:
    assert commands - commands_named(readme) == set()


def test_every_script_that_the_documents_name_exists() -> None:
    for document in DOCUMENTS:
        text = (ROOT / document).read_text(encoding="utf-8")
        for name in re.findall(r"`(?:sh |bash )?((?:deploy|tests|shared|cure|ingest|alerts|\.ci)/[\w./-]*\w)`", text):
            assert (ROOT / name).exists(), f"{document} names {name}"


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_module_that_a_document_runs_exists(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    named = {name.replace(".", "/") for name in re.findall(r"-m ((?:deploy|tests)[\w.]*\w)", text)}
    assert [n for n in sorted(named) if not any((ROOT / f).exists() for f in (f"{n}.py", f"{n}/__main__.py"))] == []
    assert named or document == "deploy/CHANGELOG.md"


def test_the_benchmarks_that_the_page_on_scaling_names_exist() -> None:
    text = (ROOT / "deploy" / "SCALING.md").read_text(encoding="utf-8")
    asked = " ".join(re.findall(r"-m deploy\.bench ([a-z ]+)", text))
    listed = re.findall(r"or some of: ([a-z ]+)", text)
    assert [set(names.split()) for names in listed] == [set(BENCHMARKS)]
    assert set(asked.split()) - BENCHMARKS.keys() == set()
    assert asked


def test_the_changelog_tells_of_the_version_in_pyproject() -> None:
    changelog = (ROOT / "deploy" / "CHANGELOG.md").read_text(encoding="utf-8")
    version = re.search(r'^version = "(.+)"$', (ROOT / "pyproject.toml").read_text(encoding="utf-8"), re.MULTILINE)
    assert version
    assert re.search(rf"^## \[{re.escape(version[1])}\]", changelog, re.MULTILINE)
