from __future__ import annotations

import json
import re
from importlib.metadata import version
from pathlib import Path

import pytest
from deploy_support import POUR, act, history, little_service, poured, run, write_site

from deploy.cli import main
from deploy.cli_site import DONE, REFUSED, WRONG_USAGE
from shared.models.acts import act_to
from shared.models.decisions import Doubt, DoubtKind
from shared.models.messages import MessageKind

PAST = "2026-11-20T08:00:00-04:00"


def test_a_site_file_with_five_faults_reports_all_five_with_their_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_site(tmp_path)
    text = path.read_text()
    planted = {
        'zone = "America/Halifax"': 'zone = "America/Hallifax"',
        "interval_s = 900": "interval_s = 9000",
        "thickness_mm = 100": "thickness_mm = 4",
        'zone = "interior"': 'zone = "inside"',
        'role = "superintendent"': 'rolle = "superintendent"',
    }
    for old, new in planted.items():
        text = text.replace(old, new, 1)
    path.write_text(text)
    lines = {new: text[: text.index(new)].count("\n") + 1 for new in planted.values()}
    ran = run(capsys, ["check", "--site", path])
    assert ran.code == REFUSED
    for new, line in lines.items():
        assert f"site.toml:{line}: " in ran.err, new
    assert ran.err.count("allowed: ") >= 5


def test_a_site_file_that_is_not_there_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, ["status", "--site", tmp_path / "site.toml"])
    assert ran.code == REFUSED
    assert "site.toml" in ran.err


def test_status_before_the_first_start_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, ["status", "--site", write_site(tmp_path)])
    assert (ran.code, ran.out) == (REFUSED, "")
    assert "start slabhour there first" in ran.err


def test_wrong_usage_is_code_two(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = write_site(tmp_path)
    assert run(capsys, ["dance"]).code == WRONG_USAGE
    assert run(capsys, ["pour", "end", POUR, "--site", site]).code == WRONG_USAGE
    ran = run(capsys, ["pour", "end", POUR, "--site", site, "--who", "super", "--happened", "2026-11-20T08:00:00"])
    assert ran.code == WRONG_USAGE
    assert "needs its offset" in ran.err
    ran = run(capsys, ["pour", "end", "A POUR", "--site", site, "--who", "super"])
    assert ran.code == WRONG_USAGE


def test_acts_without_a_service_are_carried_out_by_the_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = ["--site", str(write_site(tmp_path))]
    start = ["pour", "start", "2-b1", POUR, *site, "--who", "super", "--happened", PAST]
    assert run(capsys, start).out == "done: pour start by super\n"
    assert run(capsys, start).code == REFUSED
    end = run(capsys, ["pour", "end", POUR, *site, "--who", "super", "--json"])
    assert (end.code, end.json()["done"]["kind"]) == (DONE, "pour_end")
    ran = run(capsys, ["status", *site, "--json"])
    assert [p["pour"] for p in ran.json()["pours"]] == [POUR]
    assert ran.json()["pours"][0]["gates"]["strip"]["state"] == "curing"
    again = run(capsys, ["pour", "start", "2-b1", "2-b1-p2", *site, "--who", "super"])
    assert f"pour {POUR} of this bay ends here: what is read there from now on is the next pour's" in again.out
    again = run(capsys, ["pour", "start", "2-b1", "2-b1-p3", *site, "--who", "super", "--json"])
    assert again.json()["ended"] == "2-b1-p2"
    back = run(capsys, ["pour", "take-back", "2-b1-p3", "wrong bay", *site, "--who", "super", "--json"])
    assert (back.json()["done"]["why"], back.json()["goes_on"]) == ("wrong bay", "2-b1-p2")
    assert run(capsys, ["pour", "take-back", "2-b1-p3", "again", *site, "--who", "super"]).code == REFUSED
    back = run(capsys, ["pour", "take-back", "2-b1-p2", "wrong bay", *site, "--who", "super"])
    assert f"pour {POUR} of this bay goes on and is judged anew" in back.out
    back = run(capsys, ["pour", "take-back", POUR, "none was poured", *site, "--who", "super"])
    assert back.out == "done: take back by super\n"
    assert run(capsys, ["status", *site, "--json"]).json()["pours"] == []


def test_who_names_no_site_file_is_told_how_to_name_one_or_make_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    absent, made = "site file: found no such file; allowed: an existing one", "`slabhour init` makes one"
    for command in (["status"], ["pour", "begun", POUR, "strip", "--who", "super"]):
        ran = run(capsys, command)
        said = f"slabhour: site.toml: {absent}, named by --site FILE; {made}"
        assert (ran.code, ran.err.strip()) == (REFUSED, said)
    ran = run(capsys, ["export", "yard.toml", "ledger", "--out", "x.csv"])
    assert ran.err.strip() == f"slabhour: yard.toml: {absent}; {made}"


@pytest.mark.row("O2")
def test_an_end_is_moved_earlier_only_by_two_people(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = ["--site", str(write_site(tmp_path))]
    run(capsys, ["pour", "start", "2-b1", POUR, *site, "--who", "super", "--happened", PAST])
    run(capsys, ["pour", "end", POUR, *site, "--who", "super"])
    earlier = ["pour", "end", POUR, *site, "--happened", "2026-11-20T10:00:00-04:00", "--who", "super"]
    alone = run(capsys, earlier)
    assert alone.code == REFUSED
    assert "second person" in alone.err
    assert run(capsys, [*earlier, "--second-person", "super"]).code == REFUSED
    assert run(capsys, [*earlier, "--second-person", "qc-one"]).code == DONE


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (["sign", POUR, "strip", "--who", "qc-one"], "nothing to sign"),
        (["sign", POUR, "dig", "--who", "qc-one"], "not an operation"),
        (["sign", POUR, "strip", "--who", "nobody"], "nobody called"),
        (["pour", "begun", POUR, "strip", "--who", "super"], "cannot be begun"),
        (["pour", "end", "no-such-pour", "--who", "super"], "no pour called"),
        (["pour", "start", "9-b9", "x", "--who", "super"], "no bay"),
        (["pour", "lift", POUR, "freeze suspected", "--why", "warm", "--who", "super"], "has no hold"),
        (["confirm", "7", "--who", "super"], "nothing to confirm"),
    ],
)
def test_an_act_that_cannot_be_accepted_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str], said: str
) -> None:
    site = ["--site", str(write_site(tmp_path))]
    run(capsys, ["pour", "start", "2-b1", POUR, *site, "--who", "super", "--happened", PAST])
    ran = run(capsys, [*command, *site])
    assert ran.code == REFUSED
    assert said in ran.err


def test_stop_is_anybodys_and_shuts_every_gate(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = ["--site", str(write_site(tmp_path))]
    run(capsys, ["pour", "start", "2-b1", POUR, *site, "--who", "super", "--happened", PAST])
    assert run(capsys, ["stop", "2-b1", "crack", *site, "--who", "passer-by"]).code == DONE
    gates = run(capsys, ["status", *site, "--json"]).json()["pours"][0]["gates"]
    assert {g["state"] for g in gates.values()} == {"withdrawn"}


def test_a_reading_by_hand_is_entered_for_a_bay_and_listed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = ["--site", str(write_site(tmp_path))]
    run(capsys, ["pour", "start", "2-b1", POUR, *site, "--who", "super", "--happened", PAST])
    typed = ["reading", "2-b1", "--temperature", "7.5", "--position", "C4", "--zone", "top", "--under-insulation"]
    assert run(capsys, [*typed, *site, "--who", "qc-one"]).code == DONE
    listed = run(capsys, ["logger", "list", *site]).out
    assert re.search(r"by hand: bay 2-b1, top, C4: 7\.5 degC under insulation, \d+ s ago \(qc-one\)", listed)
    (kept,) = run(capsys, ["logger", "list", "--json", *site]).json()["by_hand"]
    assert (kept["pour"], kept["milli_c"], kept["under_insulation"], kept["by"]) == (POUR, 7500, True, "qc-one")
    assert run(capsys, ["reading", "2-b1", "--temperature", "7.5", *site, "--who", "qc-one"]).code == WRONG_USAGE


def test_replay_prints_one_json_object_a_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = write_site(tmp_path)
    rows = [f"{r.sensor},{_iso(r.taken_ms)},{r.milli_c / 1000}" for r in history(2)]
    (tmp_path / "r.csv").write_text("\n".join(["sensor,taken_at,temperature_c", *rows]) + "\n")
    (tmp_path / "a.jsonl").write_text("".join(json.dumps(act_to(a)) + "\n" for a in poured()))
    ran = run(capsys, ["replay", site, tmp_path / "r.csv", "--acts", tmp_path / "a.jsonl"])
    lines = [json.loads(line) for line in ran.out.splitlines()]
    assert ran.code == DONE
    assert {"setup", "act", "gate"} <= {line["what"] for line in lines}


def _iso(at_ms: int) -> str:
    from datetime import UTC, datetime

    return datetime.fromtimestamp(at_ms / 1000, UTC).isoformat()


def test_the_board_names_every_verdict_with_its_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readings = history(5)
    with little_service(tmp_path) as (service, clock):
        for a in poured():
            clock.set(a.at_ms)
            service.apply(a)
        clock.set(readings[-1].received_ms)
        service.intake.take_rows(readings)
        service.rounds.run_due()
    ran = run(capsys, ["status", "--site", tmp_path / "site.toml"])
    assert ran.code == DONE
    assert "strip CURING: counted hours at or above 5.0 °C (41.0 °F): 4.0 h, needs 24.0 h - not met" in ran.out
    assert "load  CURING: strip: not done" in ran.out
    assert "engineer of record" in ran.out


def test_the_board_and_the_check_say_that_nobody_watches_and_what_is_in_doubt(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with little_service(tmp_path) as (service, clock):
        service.book.service.raise_doubt(Doubt(DoubtKind.CLOCK, clock.now(), "the clock jumped ahead by 3.0 h"), [])
    site = ["--site", str(tmp_path / "site.toml")]
    board = run(capsys, ["status", *site]).out
    assert "IN DOUBT, every gate is suspended: the clock jumped ahead by 3.0 h (`slabhour resume clock`)" in board
    assert "nobody watches this service's silence" in board
    looked = run(capsys, ["check", *site])
    assert looked.code == REFUSED
    assert "nobody watches this service's silence" in looked.out
    assert "slabhour resume clock" in looked.out


def test_a_signed_release_is_shown_with_its_number_and_check_code_on_the_board(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    readings = history(26)
    with little_service(tmp_path) as (service, clock):
        for a in poured():
            clock.set(a.at_ms)
            service.apply(a)
        clock.set(readings[-1].received_ms)
        service.intake.take_rows(readings)
        for _ in range(2):
            service.tick()
            clock.set(clock.now() + 61_000)
        service.apply(act("sign", clock.now(), "qc-one", pour=POUR, operations=["strip"]))
        release = next(m for m in service.book.board.messages() if m.kind is MessageKind.RELEASED)
    site = ["--site", str(tmp_path / "site.toml")]
    assert f"strip RELEASED  [no. {release.no}, check code {release.code}]" in run(capsys, ["status", *site]).out
    gates = run(capsys, ["status", *site, "--json"]).json()["pours"][0]["gates"]
    assert list(gates) == ["strip", "walk", "load"]
    assert gates["strip"]["message"] == {"no": release.no, "code": release.code}
    assert gates["load"]["message"] is None
    shown = run(capsys, ["messages", "show", str(release.no), *site]).out
    assert release.code in shown
    assert "short: RELEASED" in shown
    listed = run(capsys, ["messages", *site, "--json"]).json()
    assert [m["kind"] for m in listed if m["no"] == release.no] == ["released"]
    assert run(capsys, ["messages", "show", "999", *site]).code == REFUSED


def test_requirements_log_and_ledger_are_read_from_the_book(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = ["--site", str(write_site(tmp_path))]
    before = run(capsys, ["requirements", *site])
    assert before.code == DONE
    assert "2-b1 strip: 24 counted hours at or above 5.0" in before.out
    run(capsys, ["pour", "start", "2-b1", POUR, *site, "--who", "super", "--happened", PAST])
    rows = run(capsys, ["requirements", *site, "--json"]).json()
    assert {r["version"] for r in rows} == {"plan common-practice"}
    assert rows[0]["document"] == "release-criteria-rev2.pdf"
    whole = run(capsys, ["log", "verify", *site])
    assert (whole.code, "the log is whole" in whole.out) == (DONE, True)
    (tmp_path / "other.jsonl").write_text('{"seq": 99, "hash": "ab"}\n')
    foreign = run(capsys, ["log", "verify", *site, "--anchors", tmp_path / "other.jsonl"])
    assert foreign.code == REFUSED
    assert run(capsys, ["ledger", *site, "--json"]).json()["rows"][0]["pour"] == POUR


def test_it_says_its_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"slabhour {version('slabhour')}\n"
