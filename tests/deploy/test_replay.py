from __future__ import annotations

import io
import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from deploy_support import END_MS, POUR, START_MS, act, history, poured, write_site

from deploy.replay import events, read_acts, read_readings, replay, steps, write_acts, write_readings
from deploy.replay_weather import read_issues
from shared.errors import SetupError
from shared.models.acts import Act, instant
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.readings import Reading
from shared.sitefile import load


def told(folder: Path, readings: list[Reading], acts: list[Act], until_ms: int | None = None) -> list[dict[str, Any]]:
    lines: list[dict[str, Any]] = []
    replay(load(write_site(folder)), readings, acts, until_ms=until_ms, tell=lines.append)
    return lines


def gates(lines: list[dict[str, Any]], operation: str = "strip") -> list[str]:
    return [line["to"] for line in lines if line["what"] == "gate" and line["operation"] == operation]


@pytest.fixture(scope="module")
def twice(tmp_path_factory: pytest.TempPathFactory) -> list[list[dict[str, Any]]]:
    """Return what two replays tell of a warm pour that is signed too early, and again when it is met."""
    early, signed = (
        act("sign", END_MS + hours * HOUR_MS, pour=POUR, operations=operations)
        for hours, operations in ((1, ["strip"]), (26, ["strip", "walk"]))
    )
    folder = tmp_path_factory.mktemp("twice")
    return [told(folder, history(28), [*poured(), early, signed]) for _ in range(2)]


def test_a_warm_pour_is_met_signed_and_released_and_the_message_has_its_words(
    twice: list[list[dict[str, Any]]],
) -> None:
    lines = twice[0]
    assert gates(lines) == ["curing", "met", "released"]
    met = next(line for line in lines if line["what"] == "gate" and line["to"] == "met")
    # 24 counted hours after the end, 30 min of evidence, two estimates a minute apart.
    assert met["at"] == "2026-11-24T09:30:01-04:00"
    release = next(line for line in lines if line["what"] == "message" and line["kind"] == "released")
    assert release["short"].startswith("RELEASED")
    assert "needs 24.0 h - met" in release["text"]


def test_two_replays_give_identical_bytes(twice: list[list[dict[str, Any]]]) -> None:
    first, second = (json.dumps(lines) for lines in twice)
    assert first == second
    assert '"met"' in first


def issued(folder: Path, *made_ms: int, air_c: float = 3.0) -> Path:
    """Write forecasts of 60 h, one a line."""
    lines = [
        {
            "issued_at": instant(at_ms).isoformat(),
            "hours": [
                {"at": instant(at_ms + h * HOUR_MS).isoformat(), "air_c": air_c + 0.01 * h, "wind_m_s": 2.0}
                for h in range(-12, 61)
            ],
        }
        for at_ms in made_ms
    ]
    path = folder / "weather.jsonl"
    path.write_text("".join(json.dumps(line) + "\n" for line in lines))
    return path


def test_recorded_weather_is_foreseen_with_and_moves_nothing_but_what_is_told(tmp_path: Path) -> None:
    setup = load(write_site(tmp_path))
    weather = read_issues([issued(tmp_path, START_MS, START_MS + HOUR_MS)], setup.site)
    assert [one.at_ms for one in weather] == [START_MS, START_MS + HOUR_MS]
    with_it, without = list[dict[str, Any]](), list[dict[str, Any]]()
    replay(setup, history(2, 14.0, 3.0), poured(), weather=weather, tell=with_it.append)
    replay(setup, history(2, 14.0, 3.0), poured(), tell=without.append)
    assert [x for x in with_it if x["what"] == "gate"] == [x for x in without if x["what"] == "gate"] != []
    forecasts = [x for x in with_it if x["what"] == "forecast"]
    assert 1 <= len(forecasts) <= 3
    for line in forecasts:
        assert line["said"] == "EXPECTED, NOT RELEASED"
        assert set(line["expected"]) == {"strip", "walk", "load"}
        # Below 5 degC no hour counts, as far as is foreseen.
        assert line["expected"]["strip"]["p90"] is None
    assert not [x for x in without if "forecast" in x["what"]]


def test_every_line_of_a_weather_file_that_cannot_be_used_is_named(tmp_path: Path) -> None:
    path = issued(tmp_path, START_MS)
    path.write_text(path.read_text() + '{"hours": []}\nno weather\n')
    with pytest.raises(SetupError) as caught:
        read_issues([path], load(write_site(tmp_path)).site)
    assert [f.line for f in caught.value.faults] == [2, 3]


def test_readings_that_were_received_late_release_later(tmp_path: Path) -> None:
    late_ms = 7 * HOUR_MS
    late = [Reading(r.sensor, r.taken_ms, r.milli_c, r.received_ms + late_ms) for r in history(26)]
    lines = told(tmp_path, late, poured())
    met = [line["at"] for line in lines if line["what"] == "gate" and line["to"] == "met"]
    assert met == []  # seven hours late, no reading is ever fresh: nobody may release on the past alone
    assert next(line["kind"] for line in lines if line["what"] == "message" and line["pour"]) == "logger silent"


def test_a_refused_act_is_told_and_what_follows_goes_on(twice: list[list[dict[str, Any]]]) -> None:
    refused = [line for line in twice[0] if line["what"] == "refused act"]
    assert len(refused) == 1
    assert "nothing to sign" in refused[0]["why"]
    assert gates(twice[0])[:2] == ["curing", "met"]


def test_it_ends_at_the_hour_that_is_wanted(tmp_path: Path) -> None:
    lines = told(tmp_path, history(26), poured(), until_ms=END_MS + 2 * HOUR_MS)
    assert gates(lines) == ["curing"]


def test_nothing_in_nothing_out(tmp_path: Path) -> None:
    assert told(tmp_path, [], []) == []


def test_no_minute_between_two_events_is_skipped() -> None:
    todo = events([history(0)[0]], [act("pour_end", START_MS + 10 * MINUTE_MS, pour=POUR)])
    hours = [e.at_ms for e in steps(todo, START_MS + 12 * MINUTE_MS)]
    assert all(0 < b - a <= MINUTE_MS for a, b in pairwise(hours))
    assert hours[-1] > START_MS + 11 * MINUTE_MS


def test_of_one_instant_readings_come_before_acts() -> None:
    reading = history(0)[0]
    todo = events([reading], [act("pour_end", reading.received_ms, pour=POUR)])
    assert [e.act is not None for e in todo] == [False, True]


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    rows, acts = history(2), poured()
    text, lines = io.StringIO(), io.StringIO()
    write_readings(text, rows, "America/Halifax")
    write_acts(lines, acts)
    (tmp_path / "r.csv").write_text(text.getvalue())
    (tmp_path / "a.jsonl").write_text(lines.getvalue())
    assert sorted(read_readings(tmp_path / "r.csv")) == sorted(rows)
    assert read_acts(tmp_path / "a.jsonl") == acts


@pytest.mark.parametrize(
    ("row", "said"),
    [
        pytest.param("lg-01.1,2026-11-23T08:00:00,18", "needs its offset", marks=pytest.mark.row("C4")),
        ("lg-01.1,yesterday,18", "yesterday"),
        ("lg-01.1,2026-11-23T08:00:00-04:00,warm", "warm"),
        ("lg-01.1,2026-11-23T08:00:00-04:00,nan", "nan"),
        ("lg-01.1,2026-11-23T08:00:00-04:00,1e999", "inf"),
        ("lg-01.1,2026-11-23T08:00:00-04:00", "lg-01.1"),
    ],
)
def test_every_wrong_line_of_a_readings_file_is_named(tmp_path: Path, row: str, said: str) -> None:
    path = tmp_path / "r.csv"
    good = "lg-01.1,2026-11-23T08:00:00-04:00,18"
    path.write_text(f"sensor,taken_at,temperature_c\n{good}\n{row}\n{good}\n{row}\n")
    with pytest.raises(SetupError) as caught:
        read_readings(path)
    assert [f.line for f in caught.value.faults] == [3, 5]
    assert said in str(caught.value)


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text("sensor,taken_at\n")
    with pytest.raises(SetupError, match=r"r\.csv:1: header: found no temperature_c"):
        read_readings(tmp_path / "r.csv")


def test_every_wrong_line_of_an_acts_file_is_named(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_text('{"kind": "dance"}\n\nnot json\n{"kind":"done","at":"2026-11-23T08:00:00","who":"x","pour":"p"}\n')
    with pytest.raises(SetupError) as caught:
        read_acts(path)
    assert [f.line for f in caught.value.faults] == [1, 3, 4]
