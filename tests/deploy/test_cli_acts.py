from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from deploy_support import POUR, run, write_site

from deploy.cli_acts import OF_LOGGER, OF_POUR, RESEND, TOP
from deploy.cli_site import DONE, WRONG_USAGE
from deploy.control import ControlSocket
from deploy.demo.scenario import SITE_FILE
from shared.models import acts
from shared.models.acts import Act, act_to
from shared.sitefile import load_calibration
from shared.store.lock import DataLock

TIME = "2026-11-24T08:40:00-04:00"
UTC = "2026-11-24T08:40:00-04:00"
RULE = {"operation": "strip", "all": [{"counted_h": 30, "at_c": 5}, {"lower_bound_mpa": 4.0}]}


CALIBRATION = str(Path(SITE_FILE).with_name("calibrations") / "c32-f-v1.toml")


def as_read(name: str) -> dict[str, Any]:
    return load_calibration(Path(name)).model_dump(mode="json", exclude_none=True)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[list[Act]]:
    """A service that takes every act and carries none out."""
    write_site(tmp_path)
    folder = tmp_path / "var"
    folder.mkdir()
    taken: list[Act] = []
    with DataLock(folder):
        control = ControlSocket(folder, taken.append)
        control.start()
        try:
            yield taken
        finally:
            control.close()


COMMANDS: dict[str, tuple[list[str], dict[str, Any]]] = {
    "sign": (["sign", POUR, "strip", "full load"], {"pour": POUR, "operations": ["strip", "full load"]}),
    "second_check": (
        ["second-check", POUR, "--mix", "c32-f", "--ticket", "4711", "--end", TIME, "--loggers-alive", "--plan-seen"],
        {"pour": POUR, "mix": "c32-f", "ticket": "4711", "end": UTC, "loggers_alive": True, "plan_seen": True},
    ),
    "mix": (
        ["mix", POUR, "c40", "--second-person", "qc-one", "--why", "the ticket says so"],
        {"pour": POUR, "mix": "c40", "second_person": "qc-one", "why": "the ticket says so"},
    ),
    "test_result": (
        ["test-result", POUR, "cylinder", "21.5", "--equivalent-age-h", "70", "--last-third", "--tested", TIME],
        {"pour": POUR, "method": "cylinder", "mpa": 21.5, "equivalent_age_h": 70.0, "last_third": True, "tested": UTC},
    ),
    "want": (["want", POUR, "strip", TIME], {"pour": POUR, "operation": "strip", "wanted": UTC}),
    "cover": (["cover", "off", POUR, "--happened", TIME], {"pour": POUR, "on": False, "happened": UTC}),
    "heat": (["heat", "on", POUR, "--below-c", "10"], {"pour": POUR, "on": True, "below_c": 10.0}),
    "ticket": (
        [
            *(
                "ticket",
                POUR,
                "--number",
                "48",
                "--mix",
                "c32-f",
                "--batched",
                TIME,
                "--water-l",
                "20",
                "--concrete-c",
                "14",
            )
        ],
        {"pour": POUR, "number": "48", "mix": "c32-f", "batched": UTC, "water_l": 20.0, "temperature_c": 14.0},
    ),
    "form_set": (["form-set", "set-a", "--bay", "2-b1"], {"form_set": "set-a", "bay": "2-b1", "gone": False}),
    "form_set gone": (["form-set", "set-a", "--gone"], {"form_set": "set-a", "gone": True}),
    "document": (
        ["document", "consent", "letter 12", "--bay", "2-b1"],
        {"name": "consent", "reference": "letter 12", "bay": "2-b1"},
    ),
    "calibration": (
        ["put-in-force", CALIBRATION, "--second-person", "super", "--why", "new cement"],
        {"calibration": as_read(CALIBRATION), "second_person": "super", "why": "new cement"},
    ),
    "resume": (["resume", "clock", "--why", "set right"], {"doubt": "clock", "why": "set right"}),
    "confirm": (["confirm", "41", "--told", "all, by phone, 07:10"], {"message": 41, "told": "all, by phone, 07:10"}),
    "silence": (["silence", "2-b1", "--until", TIME, "--why", "noise"], {"bay": "2-b1", "until": UTC, "why": "noise"}),
    "silence the site": (["silence", "--until", TIME, "--why", "noise"], {"until": UTC, "why": "noise"}),
    "resend": (["messages", "resend", "41", "--to", "super"], {"message": 41, "recipient": "super"}),
    "test_channels": (["test-channels", "super"], {"recipient": "super"}),
    "place_sensor": (
        ["logger", "place", "lg-07.1", "2-b1", "top", "--depth-mm", "20", "--position", "C4", "--not-required"],
        {"sensor": "lg-07.1", "bay": "2-b1", "zone": "top", "depth_mm": 20, "position": "C4", "required": False},
    ),
    "place_sensor earlier": (
        [
            "logger",
            "place",
            "lg-07.1",
            "2-b1",
            "air",
            "--happened",
            TIME,
            "--second-person",
            "super",
            "--interval-s",
            "60",
        ],
        {
            "sensor": "lg-07.1",
            "bay": "2-b1",
            "zone": "air",
            "happened": UTC,
            "second_person": "super",
            "interval_s": 60,
        },
    ),
    "remove_sensor": (
        ["logger", "remove", "lg-07.1", "--why", "cable cut", "--second-person", "super"],
        {"sensor": "lg-07.1", "why": "cable cut", "second_person": "super"},
    ),
    "reopen": (
        ["pour", "reopen", POUR, "strip", "--cause", "looked at"],
        {"pour": POUR, "operation": "strip", "cause": "looked at"},
    ),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_hands_in_the_act_that_it_says(
    name: str, served: list[Act], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, said = COMMANDS[name]
    ran = run(capsys, [*command, "--who", "qc-one", "--site", tmp_path / "site.toml"])
    assert (ran.code, ran.err) == (DONE, "")
    handed = act_to(served[0])
    kind = name.split(maxsplit=1)[0]
    ignored = {"at", "scripted"} | ({"last_third"} - set(said))
    assert {k: v for k, v in handed.items() if k not in ignored} == {"kind": kind, "who": "qc-one", **said}


@pytest.mark.parametrize("suffix", ["toml", "json"])
def test_a_requirement_is_read_from_a_file(
    suffix: str, served: list[Act], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / f"rule.{suffix}"
    toml = 'operation = "strip"\nall = [{ counted_h = 30, at_c = 5 }, { lower_bound_mpa = 4.0 }]\n'
    file.write_text(toml if suffix == "toml" else json.dumps(RULE))
    command: list[str | Path] = ["require", file, "--second-person", "qc-one", "--why", "revision 3", "--who", "super"]
    assert run(capsys, [*command, "--site", tmp_path / "site.toml"]).code == DONE
    assert isinstance(served[0], acts.Require)
    assert served[0].requirement.operation == "strip"
    assert act_to(served[0])["requirement"]["all"] == [{"counted_h": 30.0, "at_c": 5.0}, {"lower_bound_mpa": 4.0}]


@pytest.mark.parametrize(
    ("text", "said"),
    [("operation = strip", "Invalid value"), ('operation = "strip"', "all"), ("", "operation"),
     ('operation = "strip"\nall = [{ lower_bound_mpa = 0.35 }]', "lower_bound_mpa")],
)  # fmt: skip
def test_a_requirement_that_cannot_be_one_is_wrong_usage(
    text: str, said: str, served: list[Act], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "rule.toml"
    file.write_text(text)
    command: list[str | Path] = ["require", file, "--second-person", "qc-one", "--why", "x", "--who", "super"]
    ran = run(capsys, [*command, "--site", tmp_path / "site.toml"])
    assert (ran.code, served) == (WRONG_USAGE, [])
    assert said in ran.err


def test_a_requirements_file_that_is_not_there_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, ["require", tmp_path / "no.toml", "--second-person", "a", "--why", "x", "--who", "super"])
    assert ran.code == WRONG_USAGE
    assert "No such file" in ran.err


def test_every_act_has_a_command() -> None:
    # `slabhour refused again` and `slabhour token` have options of their own: test_refused_cli.py, test_token_cli.py.
    told = {c.kind for c in (*OF_POUR.values(), *TOP.values(), *OF_LOGGER.values(), RESEND)}
    told |= {"screen_again", "make_token", "end_token"}
    kinds = {m.model_fields["kind"].default for m in acts.Act.__args__}
    assert told == kinds


def test_a_lower_command_keeps_the_site_that_the_upper_one_was_given(
    served: list[Act], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command: list[str | Path] = ["messages", "--site", tmp_path / "site.toml", "resend", "41", "--who", "super"]
    assert run(capsys, command).code == DONE
    assert [a.kind for a in served] == ["resend"]
