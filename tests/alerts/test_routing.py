from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from alerts_support import alerts_setup, make_told
from hypothesis import given
from hypothesis import strategies as st
from store_support import T0, make_site

from alerts.routing import ROLES, route, shift_from
from shared.models.base import DAY_MS, MINUTE_MS
from shared.models.messages import URGENT, MessageKind
from shared.models.setup import RecipientSettings, Role, SiteFile

SITE = alerts_setup().site
HALIFAX = ZoneInfo("America/Halifax")


def whom(kind: MessageKind, told: list[tuple[str, int]] | None = None, **facts: Any) -> set[tuple[str, int]]:
    return {(d.recipient, d.channel) for d in route(make_told(kind, **facts), SITE, told or [], T0)}


def people(kind: MessageKind, **facts: Any) -> set[str]:
    return {who for who, _ in whom(kind, **facts)}


def at(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def person(shift: str | None) -> RecipientSettings:
    return RecipientSettings(id="super", role=Role.SUPERINTENDENT, shift=shift)


def site(zone: str = "America/Halifax", shift: str = "06:30-17:00") -> SiteFile:
    return make_site(
        site={"id": "millrace", "name": "Millrace", "zone": zone, "clock_sync": "not-checked", "shift": shift}
    )


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


@pytest.mark.parametrize("kind", [MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF])
@pytest.mark.row("A6", "O10")
def test_a_withdrawal_goes_to_everybody_a_release_was_ever_called_for(kind: MessageKind) -> None:
    told = [("installer", 0), ("gone", 3), ("crew", 1)]
    assert whom(kind, told) == whom(kind) | {("installer", 0), ("gone", 3)}
    assert len(route(make_told(kind), SITE, told, T0)) == len(whom(kind, told)), "nobody has two rows"


def test_other_kinds_do_not_follow_who_was_told() -> None:
    assert whom(MessageKind.RELEASED, [("installer", 0)]) == whom(MessageKind.RELEASED)


@pytest.mark.parametrize("kind", sorted(MessageKind))
@pytest.mark.row("A20")
def test_at_night_only_urgent_kinds_go_at_once(kind: MessageKind) -> None:
    night = at("2026-11-24T03:00-04:00")
    by_night = alerts_setup(
        recipient=[{"id": r, "role": r, "channels": [{"kind": "inbox"}]} for r in ("qc", "engineer")]
    ).site
    starts = {d.next_ms for d in route(make_told(kind), by_night, [], night)}
    assert starts == {night if kind in URGENT else at("2026-11-24T06:30-04:00")}


@pytest.mark.parametrize(
    ("now", "first"),
    [
        ("2026-11-24T06:29:59.999-04:00", "2026-11-24T06:30-04:00"),
        ("2026-11-24T06:30-04:00", "2026-11-24T06:30-04:00"),
        ("2026-11-24T16:59:59.999-04:00", "2026-11-24T16:59:59.999-04:00"),
        ("2026-11-24T17:00-04:00", "2026-11-25T06:30-04:00"),
        ("2026-11-24T23:30-04:00", "2026-11-25T06:30-04:00"),
        ("2026-11-25T00:00-04:00", "2026-11-25T06:30-04:00"),
    ],
)
def test_a_shift_includes_its_start_and_not_its_end(now: str, first: str) -> None:
    assert shift_from(person(None), site(), at(now)) == at(first)


@pytest.mark.parametrize(
    ("now", "first"),
    [
        ("2026-11-24T21:59-04:00", "2026-11-24T22:00-04:00"),
        ("2026-11-24T22:00-04:00", "2026-11-24T22:00-04:00"),
        ("2026-11-25T02:00-04:00", "2026-11-25T02:00-04:00"),
        ("2026-11-25T06:00-04:00", "2026-11-25T22:00-04:00"),
    ],
)
def test_a_shift_may_cross_midnight(now: str, first: str) -> None:
    assert shift_from(person("22:00-06:00"), site(), at(now)) == at(first)


def test_a_persons_own_shift_wins_and_one_without_length_is_the_whole_day() -> None:
    night = at("2026-11-24T03:00-04:00")
    assert shift_from(person("02:00-04:00"), site(), night) == night
    assert shift_from(person("00:00-00:00"), site(), night) == night
    assert shift_from(person(None), site(shift="05:00-15:00"), night) == at("2026-11-24T05:00-04:00")


@pytest.mark.parametrize(
    ("shift", "now", "first"),
    [
        # Autumn: the night is an hour longer, the shift still starts at half past six by the site's clock.
        ("06:30-17:00", "2026-10-31T18:00-03:00", "2026-11-01T06:30-04:00"),
        # Spring: an hour shorter.
        ("06:30-17:00", "2026-03-07T18:00-04:00", "2026-03-08T06:30-03:00"),
        # A start in the hour that spring leaves out, and one in the hour that autumn has twice.
        ("02:30-05:00", "2026-03-08T00:00-04:00", "2026-03-08T03:30-03:00"),
        ("01:30-05:00", "2026-11-01T00:00-03:00", "2026-11-01T01:30-03:00"),
        # Spring turns 02:30-03:10 round: there is no such shift on that day.
        ("02:30-03:10", "2026-03-08T00:00-04:00", "2026-03-09T02:30-03:00"),
    ],
)
@pytest.mark.row("C10")
def test_a_shift_starts_at_its_local_hour_on_both_nights_of_the_clock_change(shift: str, now: str, first: str) -> None:
    assert shift_from(person(shift), site(), at(now)) == at(first)


def test_the_shift_is_that_of_the_sites_zone() -> None:
    now = at("2026-11-24T05:00+00:00")
    assert shift_from(person(None), site("Europe/Paris"), now) == at("2026-11-24T06:30+01:00")
    assert shift_from(person(None), site("Australia/Sydney"), now) == now


MINUTES = st.integers(0, 24 * 60 - 1)


@given(MINUTES, MINUTES, st.integers(0, 3 * 365 * 24 * 60))
def test_the_hour_found_is_in_the_shift_and_at_most_two_days_away(starts: int, ends: int, minutes: int) -> None:
    now = T0 + minutes * MINUTE_MS
    shift = f"{starts // 60:02}:{starts % 60:02}-{ends // 60:02}:{ends % 60:02}"
    found = shift_from(person(shift), site(), now)
    assert now <= found <= now + 2 * DAY_MS
    assert shift_from(person(shift), site(), found) == found
    if found > now:
        local = datetime.fromtimestamp(found / 1000, HALIFAX)
        skipped = local - timedelta(hours=1)
        assert f"{local:%H:%M}" == shift[:5] or f"{skipped:%H:%M}" == shift[:5]
