"""What became of a sensor's readings, as a bay's page and other software are told."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pages_support import NOW, SITE, Bench, row
from store_support import AIR, BAY, EDGE

from alerts.site_words import shipped
from cure.accounts import BEFORE, NOT_YET
from cure.dashboard.accounted import accounts, key_of, missing_words
from cure.dashboard.api_views import estimate_answer
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from cure.seen import Cause
from shared.models.base import HOUR_MS, LoggerId
from shared.models.decisions import Placement
from shared.models.estimate import Estimate, KeptReadings, SensorAccount
from shared.models.people import Role
from shared.models.setup import Zone
from shared.ports import BoardRow
from shared.sequence import Followed

BEGUN = NOW - 3 * HOUR_MS
ACCOUNT = SensorAccount(
    EDGE,
    41,
    (KeptReadings(str(Cause.SPIKE), 1, BEGUN, BEGUN), KeptReadings(str(Cause.UNIT), 4, NOW - HOUR_MS, None)),
    {str(Cause.ERROR_VALUE): 2},
)


def reader(language: str = "en") -> Reader:
    return Reader(words()[language], shipped()[language], "SI", SITE.site.zone)


def told() -> BoardRow:
    found = row(BAY)
    assert found.state.estimate is not None
    return replace(found, state=replace(found.state, estimate=replace(found.state.estimate, sensors=(ACCOUNT,))))


def estimate() -> Estimate:
    found = told().state.estimate
    assert found is not None
    return found


def test_credited_kept_and_refused_are_told_as_three_things() -> None:
    hours = [reader().hour(at, NOW) for at in (BEGUN, NOW - HOUR_MS)]
    assert accounts(estimate(), reader(), NOW) == {
        EDGE: (
            "credited: 41 readings",
            f"kept without credit, still watched for cold: 1 (jumped up once, {hours[0]} to {hours[0]})",
            f"kept without credit, still watched for cold: 4 (number of the other unit, {hours[1]} to now)",
            "refused: 2 (declared error value)",
        )
    }
    assert accounts(None, reader(), NOW) == {}


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_every_reason_for_which_readings_are_kept_has_words(language: str) -> None:
    said = [words()[language].say(key_of(str(why))) for why in (*Cause, BEFORE, NOT_YET)]
    assert len(set(said)) == len(said)


def test_a_bays_page_says_it_beside_each_sensor_and_other_software_reads_it(bench: Bench) -> None:
    lies = [Placement(sensor, BAY, zone, None, 900, required=True) for sensor, zone in
            ((EDGE, Zone.EXPOSED_EDGE), (AIR, Zone.AIR))]  # fmt: skip
    bench.board.rows, bench.board.placed = [told()], lies
    text = bench.signed_in(Role.VIEWER).get(f"/bay/{BAY}").text
    for said in ("credited: 41 readings", "still watched for cold: 4", "refused: 2 (declared", 'href="/logger/lg-01"'):
        assert said in text, said
    answer = estimate_answer(told(), SITE)
    assert answer is not None
    (found,) = answer.sensors
    assert (found.sensor, found.credited, found.refused) == (EDGE, 41, {"declared error value": 2})
    assert [(k.reason, k.readings, k.until is None) for k in found.kept] == [
        ("spike", 1, False),
        ("unit slipped", 4, True),
    ]


def test_numbers_that_never_came_are_told_on_their_loggers_page_alone(bench: Bench) -> None:
    bench.board.lost = [Followed(LoggerId("lg-01"), "a7", 9, ((2, 4), (7, 7)))]
    browser = bench.signed_in(Role.QC)
    assert "4 of its messages never came, by their numbers: 2-4, 7." in browser.get("/logger/lg-01").text
    assert "never came" not in browser.get("/logger/lg-02").text
    assert missing_words([Followed(LoggerId("lg-01"), None, 9)], "lg-01", reader()) == ""
