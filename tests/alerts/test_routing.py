from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from alerts_support import alerts_setup, make_told, with_duty
from store_support import T0

from alerts.routing import AT_ITS_HOUR, ROLES, TOGETHER_MS, receivers, route, unreachable
from shared.models.messages import PERMITS, URGENT, MessageKind

SITE = alerts_setup().site


def whom(kind: MessageKind, told: list[tuple[str, int]] | None = None, **facts: Any) -> set[tuple[str, int]]:
    return {(d.recipient, d.channel) for d in route(make_told(kind, **facts), SITE, told or [], T0)}


def people(kind: MessageKind, **facts: Any) -> set[str]:
    return {who for who, _ in whom(kind, **facts)}


def at(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


@pytest.mark.parametrize(
    ("kind", "roles"),
    [
        (MessageKind.RELEASED, "crew superintendent qc engineer"),
        (MessageKind.MET_NOT_SIGNED, "crew superintendent qc engineer"),
        (MessageKind.COLD_DELAY, "superintendent qc"),
        (MessageKind.FREEZE_SUSPECTED, "superintendent qc engineer"),
        (MessageKind.FREEZE_LOCKED, "superintendent qc engineer"),
        (MessageKind.HOLD, "superintendent qc"),
        (MessageKind.LOGGER_SILENT, "installer qc"),
        (MessageKind.WITHDRAWAL, "crew superintendent qc engineer"),
        (MessageKind.KEEP_OFF, "crew superintendent qc engineer"),
        (MessageKind.RELEASED_EARLY, "engineer qc"),
        (MessageKind.TOO_HOT, "superintendent qc"),
        (MessageKind.TOO_STEEP, "superintendent qc"),
        (MessageKind.FREEZING_AHEAD, "crew superintendent qc"),
        (MessageKind.DRYING_RISK, "crew superintendent qc"),
        (MessageKind.COVER_TONIGHT, "crew superintendent qc"),
        (MessageKind.LOGGER_DOUBTFUL, "installer qc"),
        (MessageKind.LOW_BATTERY, "installer qc"),
        (MessageKind.CALIBRATION, "engineer qc"),
        (MessageKind.IN_DOUBT, "crew superintendent qc engineer"),
        (MessageKind.MORNING_LIST, "crew superintendent qc engineer"),
        (MessageKind.HANDOVER, "crew superintendent qc"),
    ],
)
def test_each_kind_goes_to_its_roles(kind: MessageKind, roles: str) -> None:
    assert people(kind) == set(roles.split())


def test_every_kind_has_receivers() -> None:
    assert set(ROLES) == set(MessageKind)
    assert all(ROLES.values())


def test_a_sign_off_request_goes_to_those_who_may_sign() -> None:
    assert people(MessageKind.SIGN_OFF_WANTED, roles=["engineer"]) == {"engineer"}
    assert people(MessageKind.SIGN_OFF_WANTED, roles=["qc", "engineer", "nobody"]) == {"qc", "engineer"}


@pytest.mark.parametrize("roles", [[], None, "engineer", ["nobody"], [7]])
def test_a_sign_off_request_that_names_nobody_still_reaches_the_office(roles: object) -> None:
    assert people(MessageKind.SIGN_OFF_WANTED, roles=roles) == {"superintendent", "qc", "engineer"}


@pytest.mark.parametrize("owner", ["engineer", "Engineer of record"])
def test_a_hold_of_the_engineer_goes_to_the_engineer_too(owner: str) -> None:
    assert people(MessageKind.HOLD, owner=owner) == {"superintendent", "qc", "engineer"}


def test_each_channel_of_a_person_has_a_delivery_of_its_own() -> None:
    assert {(who, n) for who, n in whom(MessageKind.RELEASED) if who == "crew"} == {("crew", 0), ("crew", 1)}


@pytest.mark.parametrize("kind", [MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF, MessageKind.IN_DOUBT])
@pytest.mark.row("A6", "O10")
def test_a_withdrawal_goes_to_everybody_a_release_was_ever_called_for(kind: MessageKind) -> None:
    told = [("installer", 0), ("gone", 3), ("crew", 1)]
    assert whom(kind, told) == whom(kind) | {("installer", 0), ("gone", 3)}
    assert len(route(make_told(kind), SITE, told, T0)) == len(whom(kind, told)), "nobody has two rows"


def test_other_kinds_do_not_follow_who_was_told() -> None:
    assert whom(MessageKind.RELEASED, [("installer", 0)]) == whom(MessageKind.RELEASED)


@pytest.mark.parametrize("kind", sorted(set(MessageKind) - {MessageKind.TEST}))
@pytest.mark.row("A20")
def test_at_night_only_urgent_kinds_go_at_once(kind: MessageKind) -> None:
    night = at("2026-11-24T03:00-04:00")
    by_night = alerts_setup(
        recipient=[{"id": r, "role": r, "channels": [{"kind": "inbox"}]} for r in ("qc", "engineer")]
    ).site
    starts = {d.next_ms for d in route(make_told(kind), by_night, [], night)}
    assert starts == {night if kind in URGENT | AT_ITS_HOUR else at("2026-11-24T06:30-04:00")}


@pytest.mark.parametrize(
    ("shift", "first"),
    [
        (None, "2026-11-25T06:30-04:00"),
        ("22:00-06:00", "2026-11-25T02:00-04:00"),
        ("03:00-05:00", "2026-11-25T03:00-04:00"),
        ("00:00-00:00", "2026-11-25T02:00-04:00"),
    ],
)
def test_a_persons_own_shift_wins_over_the_sites(shift: str | None, first: str) -> None:
    person = {"id": "qc", "role": "qc", "shift": shift, "channels": [{"kind": "inbox"}]}
    site = alerts_setup(recipient=[person]).site
    now = at("2026-11-25T02:00-04:00")
    assert [d.next_ms for d in route(make_told(MessageKind.RELEASED), site, [], now)] == [at(first)]


@pytest.mark.parametrize(
    ("now", "first"),
    [("2026-10-31T18:00-03:00", "2026-11-01T06:30-04:00"), ("2026-03-07T18:00-04:00", "2026-03-08T06:30-03:00")],
)
@pytest.mark.row("A20", "C10")
def test_a_message_waits_for_the_local_hour_on_both_nights_of_the_clock_change(now: str, first: str) -> None:
    site = alerts_setup(recipient=[{"id": "qc", "role": "qc", "channels": [{"kind": "inbox"}]}]).site
    assert [d.next_ms for d in route(make_told(MessageKind.RELEASED), site, [], at(now))] == [at(first)]


@pytest.mark.parametrize("kind", sorted(PERMITS))
def test_what_permits_something_waits_a_minute_for_others_of_its_kind(kind: MessageKind) -> None:
    for late_ms, wait_ms in ((0, TOGETHER_MS), (20_000, TOGETHER_MS - 20_000), (TOGETHER_MS, 0), (10**7, 0)):
        starts = {d.next_ms for d in route(make_told(kind), SITE, [], T0 + late_ms)}
        assert starts == {T0 + late_ms + wait_ms}


@pytest.mark.parametrize("kind", sorted(set(MessageKind) - PERMITS - {MessageKind.TEST}))
def test_nothing_else_waits_for_others(kind: MessageKind) -> None:
    assert {d.next_ms for d in route(make_told(kind), SITE, [], T0)} == {T0}


@pytest.mark.parametrize(
    ("duty", "told"),
    [
        ((), ["superintendent", "engineer"]),
        (("installer", "qc", "crew", "crew"), ["installer", "crew", "crew"]),
        (("qc",), ["superintendent", "engineer"]),
        (("nobody",), ["superintendent", "engineer"]),
    ],
)
def test_a_failed_delivery_is_told_to_others_on_duty_or_else_to_the_office(
    duty: tuple[str, ...], told: list[str]
) -> None:
    failed = make_told(MessageKind.DELIVERY_FAILED, recipient="qc")
    assert [d.recipient for d in route(failed, with_duty(alerts_setup(), *duty).site, [], T0)] == told


def test_a_failed_delivery_of_the_only_person_is_for_nobody() -> None:
    alone = alerts_setup(recipient=[{"id": "qc", "role": "qc", "channels": [{"kind": "inbox"}]}]).site
    assert route(make_told(MessageKind.DELIVERY_FAILED, recipient="qc"), alone, [], T0) == []


@pytest.mark.row("A9")
def test_kinds_that_reach_nobody_are_found_in_the_set_up() -> None:
    assert list(unreachable(SITE)) == []
    crew = alerts_setup(recipient=[{"id": "crew", "role": "crew", "channels": [{"kind": "inbox"}]}]).site
    assert set(unreachable(crew)) == {
        MessageKind.SIGN_OFF_WANTED,
        MessageKind.FREEZE_SUSPECTED,
        MessageKind.FREEZE_LOCKED,
    }
    nobody = alerts_setup(recipient=[{"id": "qc", "role": "qc"}]).site
    assert set(unreachable(nobody)) == PERMITS | URGENT


@pytest.mark.row("A9")
@pytest.mark.parametrize("kind", sorted(MessageKind))
def test_an_urgent_message_that_is_for_nobody_is_for_everybody(kind: MessageKind) -> None:
    site = alerts_setup(
        recipient=[{"id": "v", "role": "viewer", "channels": [{"kind": "inbox"}]}, {"id": "x", "role": "qc"}]
    )
    told = [person.id for person in receivers(make_told(kind), site.site)]
    assert told == (["v"] if kind in URGENT else [])
