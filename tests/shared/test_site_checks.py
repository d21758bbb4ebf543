from __future__ import annotations

from pathlib import Path

import pytest
from setup_support import SITE, changed, line_of, written

from shared.errors import Fault, SetupError
from shared.site_checks import SITE_CHECKS, bays_named_exist
from shared.sitefile import load

URL = 'kind = "url"\nurl = "mqtts://broker.lan:8883"\n'
EMBEDDED = 'kind = "embedded"\nport = 1883\n'
EDGE = '{ id = "lg-02.1", zone = "last-placed end" }'
EMAIL = '[channel.email]\nhost = "127.0.0.1"\nport = 2525\nsender = "slab@millrace.example"\n'
CHANNELS = 'channels = [{ kind = "email", to = "super@millrace.example" }, { kind = "inbox" }]\n'

ERRORS = '[[sensor_type]]\nid = "probe"\nerror_values_c = [85.0]\n'
LABORATORY = '[laboratory]\nopen = "08:00-17:00"\ndays = ["mon"]\n'

CASES: list[tuple[str, str, str, str]] = [
    # what is changed, into what, field at fault, part of the line that must be named
    ("America/Halifax", "America/Halifacks", "site.zone", "Halifacks"),
    ("America/Halifax", "localtime", "site.zone", "localtime"),
    ("06:30-17:00", "06:30-06:30", "recipient[super].shift", "06:30-06:30"),
    ('[[bay]]\nid = "2-b1"', '[[mix]]\nid = "c32-f"\nsupplementary = true\n[[bay]]\nid = "2-b1"', "mix[c32-f].id", ""),
    ('id = "qc-one"', 'id = "super"', "recipient[super].id", ""),
    ("lg-02.1", "lg-01.1", "bay[2-b2].sensors[1].id", ""),
    ('mix = "c32-f"', 'mix = "c40"', "bay[2-b1].mix", "c40"),
    ('neighbours = ["2-b2"]', 'neighbours = ["2-b2", "2-b7"]', "bay[2-b1].neighbours[2]", "2-b7"),
    ('neighbours = ["2-b2"]', 'neighbours = ["2-b2", "2-b1"]', "bay[2-b1].neighbours[2]", "neighbours = "),
    ('below = ["2-b1"]', 'below = ["2-b2"]', "bay[2-b2].below[1]", "below = "),
    (EDGE, '{ id = "lg-02.1", zone = "air below" }', "bay[2-b2].sensors", "lg-02.1"),
    (EDGE, '{ id = "lg-02.1", zone = "top", required = false }', "bay[2-b2].sensors", "lg-02.1"),
    (EDGE, '{ id = "lg-02.1", zone = "top", interval_s = 3600 }', "bay[2-b2].sensors[1].interval_s", "lg-02.1"),
    ("interval_s = 900", "interval_s = 3600", "site.interval_s", "interval_s"),
    ('document = "release-criteria-rev2.pdf"\n', "", "plan.document", "[plan]"),
    ('adopted_by = "engineer of record"\n', "", "plan.adopted_by", "[plan]"),
    ("sign_offs = 1\n", "", "plan.sign_offs", "[plan]"),
    ("thickness_mm = 100", "thickness_mm = 74", "bay[2-b1].thickness_mm", "thickness_mm = 74"),
    ("joist_spacing_mm = 1220", "joist_spacing_mm = 1251", "bay[2-b1].joist_spacing_mm", "1251"),
    ('floor = "2"', 'floor = "2"\nnormal_weight = false', "bay[2-b1].normal_weight", "normal_weight"),
    ('floor = "2"', 'floor = "2"\nmesh_continuous = false', "bay[2-b1].mesh_continuous", "mesh_continuous"),
    ('floor = "2"', 'floor = "2"\ncantilever = true', "bay[2-b1].cantilever", "cantilever"),
    (EMBEDDED, 'kind = "url"\n', "broker.url", "[broker]"),
    (EMBEDDED, URL + 'listen = "10.0.0.5"\n', "broker.listen", "listen"),
    (EMBEDDED, URL + 'loggers_file = "secrets/loggers"\n', "broker.loggers_file", "loggers_file"),
    (EMBEDDED, EMBEDDED + 'listen = "0.0.0.0"\nloggers_file = "l"\n', "broker.cert_file", "[broker]"),
    (EMBEDDED, EMBEDDED + 'listen = "10.0.0.5"\ncert_file = "c"\nkey_file = "k"\n', "broker.loggers_file", "[broker]"),
    (EMBEDDED, EMBEDDED + 'cert_file = "c"\n', "broker.key_file", "[broker]"),
    (EMBEDDED, URL + "port = 8883\n", "broker.port", "port = 8883"),
    (EMBEDDED, URL + 'user = "slab"\n', "broker.password_file", "[broker]"),
    (EMBEDDED, URL + 'cert_file = "c"\n', "broker.key_file", "[broker]"),
    (EMBEDDED, 'kind = "url"\nurl = "mqtt://b"\ncert_file = "c"\nkey_file = "k"\n', "broker.cert_file", "cert_file"),
    (EMBEDDED, 'kind = "url"\nurl = "mqtt://b"\nca_file = "ca"\n', "broker.ca_file", "ca_file"),
    (EMBEDDED, 'kind = "url"\nurl = "mqtt://b:70000"\n', "broker.url", "url ="),
    (EMBEDDED, 'url = "mqtt://b"\n', "broker.url", "url ="),
    (EMBEDDED, 'ca_file = "ca"\n', "broker.ca_file", "ca_file"),
    (CHANNELS, CHANNELS + '[web]\nlisten = "0.0.0.0"\n', "web.cert_file", "[web]"),
    (CHANNELS, CHANNELS + '[web]\nlisten = "10.0.0.5"\nport = 443\n', "web.cert_file", "[web]"),
    (CHANNELS, CHANNELS + '[web]\ncert_file = "c"\n', "web.key_file", "[web]"),
    (CHANNELS, CHANNELS + '[web]\nlisten = "0.0.0.0"\nkey_file = "k"\n', "web.cert_file", "[web]"),
    (CHANNELS, "", "recipient", "[[recipient]]"),
    (CHANNELS, "channels = []\n", "recipient", "[[recipient]]"),
    (EMAIL, "", "recipient[super].channels[1].kind", "channels"),
    (CHANNELS, CHANNELS + LABORATORY.replace("17:00", "08:00"), "laboratory.open", "08:00-08:00"),
    (CHANNELS, CHANNELS + LABORATORY.replace("08:00-17:00", "8-17"), "laboratory.open", "8-17"),
    (CHANNELS, CHANNELS + LABORATORY.replace("mon", "monday"), "laboratory.days[1]", "monday"),
    (CHANNELS, CHANNELS + LABORATORY.replace('"mon"', ""), "laboratory.days", "days"),
    (CHANNELS, CHANNELS + LABORATORY.replace('days = ["mon"]', ""), "laboratory.days", "[laboratory]"),
    ("port = 2525", 'port = 2525\nuser = "slab"', "channel.email.password_file", "[channel.email]"),
    (CHANNELS, CHANNELS + ERRORS.replace("85.0", "-2.0"), "sensor_type[probe].error_values_c[1]", "-2.0"),
    (CHANNELS, CHANNELS + ERRORS.replace("85.0", "0"), "sensor_type[probe].error_values_c[1]", "error_values_c"),
    (CHANNELS, CHANNELS + ERRORS.replace("[85.0]", "[]"), "sensor_type[probe].error_values_c", "error_values_c"),
    (CHANNELS, CHANNELS + ERRORS + ERRORS, "sensor_type[probe].id", ""),
    ('id = "lg-01.1", ', 'id = "lg-01.1", type = "prob", ', "bay[2-b1].sensors[1].type", "prob"),
    ('role = "superintendent"', 'role = "crew"', "", ""),
    ('role = "qc"', 'role = "admin"', "plan.sign_offs", "sign_offs"),
]


def fields(folder: Path, text: str) -> dict[str, Fault]:
    try:
        load(written(folder, text))
    except SetupError as error:
        return {f.field: f for f in error.faults}
    return {}


@pytest.mark.parametrize(("old", "new", "field", "at"), CASES)
def test_one_thing_that_does_not_fit_is_one_fault_at_its_place(
    tmp_path: Path, old: str, new: str, field: str, at: str
) -> None:
    text = changed(SITE, old, new)
    found = fields(tmp_path, text)

    assert list(found) == ([field] if field else [])
    if at:
        assert found[field].line == line_of(text, at)


def test_a_bay_outside_common_practice_is_told_who_must_write_the_plan(tmp_path: Path) -> None:
    found = fields(tmp_path, changed(SITE, "thickness_mm = 100", "thickness_mm = 60"))
    assert "the engineer of record must write the plan" in found["bay[2-b1].thickness_mm"].allowed


def test_the_limits_of_common_practice_are_themselves_inside(tmp_path: Path) -> None:
    text = changed(changed(SITE, "thickness_mm = 100", "thickness_mm = 75"), "spacing_mm = 1220", "spacing_mm = 1250")
    assert fields(tmp_path, text) == {}


def test_clock_or_strength_without_consent_loads_since_its_gates_stay_shut(tmp_path: Path) -> None:
    text = changed(changed(SITE, "common-practice", "clock-or-strength"), "thickness_mm = 100", "thickness_mm = 60")
    assert fields(tmp_path, text) == {}


def test_one_of_two_neighbours_may_leave_the_other_unnamed(tmp_path: Path) -> None:
    assert fields(tmp_path, changed(SITE, 'neighbours = ["2-b1"]', "neighbours = []")) == {}


def test_a_plan_that_nobody_adopted_loads(tmp_path: Path) -> None:
    text = changed(SITE, 'adopted_by = "engineer of record"\ndocument = "release-criteria-rev2.pdf"\n', "")
    assert fields(tmp_path, text) == {}


def test_a_broker_of_the_sites_own_loads(tmp_path: Path) -> None:
    signed_in = 'user = "slab"\npassword_file = "secrets/mqtt"\nca_file = "ca.pem"\n'
    text = changed(SITE, EMBEDDED, URL + signed_in + 'cert_file = "site.pem"\nkey_file = "site.key"\n')
    assert fields(tmp_path, text) == {}


HOOK = 'channels = [{ kind = "webhook", url = "https://hooks.yard.example/a?token=planted", secret_file = "s" }]\n'


@pytest.mark.row("A9", "M16")
def test_a_webhook_goes_to_a_host_that_the_site_names(tmp_path: Path) -> None:
    text = changed(SITE, CHANNELS, HOOK)
    found = fields(tmp_path, text)
    assert list(found) == ["recipient[super].channels[1].url"]
    assert "planted" not in str(found), "a URL may hold a token"
    named = '[channel]\nwebhook_hosts = ["hooks.yard.example"]\n'
    assert fields(tmp_path, changed(text, "[channel.email]", named + "[channel.email]")) == {}
    other = '[channel]\nwebhook_hosts = ["hooks.yard.example:8443"]\n'
    assert len(fields(tmp_path, changed(text, "[channel.email]", other + "[channel.email]"))) == 1


@pytest.mark.row("A9", "A19")
@pytest.mark.parametrize(("duty", "faults"), [('["super"]', []), ('["super", "nobody"]', ["site.duty[2]"])])
def test_who_is_on_duty_is_a_recipient_who_can_be_told(tmp_path: Path, duty: str, faults: list[str]) -> None:
    assert list(fields(tmp_path, changed(SITE, "interval_s = 900", f"interval_s = 900\nduty = {duty}"))) == faults


def test_a_slow_sensor_may_be_one_that_is_not_required(tmp_path: Path) -> None:
    slow = '{ id = "lg-02.2", zone = "top", required = false, interval_s = 3600 }, '
    assert fields(tmp_path, changed(SITE, EDGE, slow + EDGE)) == {}


def test_a_bay_id_that_comes_twice_is_told_where_it_comes_again(tmp_path: Path) -> None:
    text = changed(SITE, 'id = "2-b2"', 'id = "2-b1"')
    fault = fields(tmp_path, text)["bay[2-b1].id"]
    assert (fault.found, fault.line) == ('"2-b1" again', line_of(text, 'id = "2-b1"', 2))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (EMBEDDED, 'kind = "cloud"\nurl = "mqtt://b"\nport = 1\n'),
        ('neighbours = ["2-b1"]', "neighbours = 3"),
        (EDGE, '{ id = "lg-02.1", zone = "edge" }'),
        ('role = "superintendent"', 'role = "boss"'),
        ("host =", 'hostt = "x"\nhost ='),
        ('[channel.email]\nhost = "127.0.0.1"', '[channel.email]\nhost = ""'),
        (CHANNELS, "channels = 3\n"),
        ('floor = "2"', 'floor = "2"\nnormal_weight = "no"'),
        ("sign_offs = 1", 'sign_offs = "two"'),
    ],
)
def test_a_value_at_fault_brings_no_second_fault_with_it(tmp_path: Path, old: str, new: str) -> None:
    assert len(fields(tmp_path, changed(SITE, old, new))) == 1


def test_every_check_is_silent_on_an_empty_file() -> None:
    assert [list(check({})) for check in SITE_CHECKS] == [[] for _ in SITE_CHECKS]


class Compared(str):
    """A name that counts how often it is held against another."""

    __slots__ = ()
    times = 0

    def __eq__(self, other: object) -> bool:
        Compared.times += 1
        return str.__eq__(self, other)

    def __ne__(self, other: object) -> bool:
        Compared.times += 1
        return str.__ne__(self, other)

    def __hash__(self) -> int:
        return str.__hash__(self)


def test_a_site_of_many_bays_does_not_hold_each_against_every_other() -> None:
    names = [Compared(f"b-{n}") for n in range(300)]
    bays = [{"id": name, "neighbours": [names[n - 1]]} for n, name in enumerate(names)]
    assert list(bays_named_exist({"bay": bays})) == []
    assert Compared.times <= 10 * len(names)
