"""What only the InfluxDB store has to prove, on Debian's engine; what every store promises: `tests/contracts`."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

import pytest
from influx_support import BUCKET, NEEDS_INFLUXDB, Adapter, Server, ask, influx_running, influx_setup, site_in
from store_support import EDGE, INSIDE, T0, make_reading

from shared.errors import RejectedError, StoreError
from shared.models.base import DAY_MS
from shared.models.readings import Conflict
from shared.ports import Readings
from shared.store import open_readings
from shared.store.influx_server import FaultyLine, InfluxServer

pytestmark = [*NEEDS_INFLUXDB]


@pytest.fixture(scope="module")
def influx(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Adapter]]:
    with influx_running(tmp_path_factory.mktemp("influxdb")) as running:
        yield running


@pytest.fixture
def store(influx: tuple[Server, Adapter], tmp_path: Path) -> Iterator[Readings]:
    with closing(another(influx, tmp_path)) as opened:
        yield opened


def another(influx: tuple[Server, Adapter], folder: Path) -> Readings:
    return open_readings(influx_setup(influx[1].url, site_in(folder)), folder)


def told(influx: tuple[Server, Adapter], statement: str) -> str:
    """Do what another program could; return the answer."""
    body = urlencode({"q": statement, "db": BUCKET}).encode()
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    return ask(influx[0].port, "POST", "/query", body, **kind)[1].decode()


def test_two_sites_in_one_bucket_do_not_see_each_others_readings(
    influx: tuple[Server, Adapter], store: Readings, tmp_path: Path
) -> None:
    with closing(another(influx, tmp_path / "other")) as other:
        store.merge([make_reading(c=5.0)])
        assert other.merge([make_reading(c=20.0)]) == []
        assert other.known([(EDGE, T0)]) == {(EDGE, T0): 20_000}
        assert other.forget(EDGE, T0 + 1) == 1
    assert store.known([(EDGE, T0)]) == {(EDGE, T0): 5_000}


@pytest.mark.row("S11")
def test_a_death_between_the_two_writes_of_a_conflict_loses_neither_value(
    influx: tuple[Server, Adapter], store: Readings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.merge([make_reading(c=12.0)])
    write, done = InfluxServer.write, []

    def dies_at_the_second(self: InfluxServer, lines: list[str]) -> list[FaultyLine]:
        done.append(lines)
        if len(done) == 2:
            raise StoreError("the process dies here")
        return write(self, lines)

    with monkeypatch.context() as patch:
        patch.setattr(InfluxServer, "write", dies_at_the_second)
        with pytest.raises(StoreError, match="dies here"):
            store.merge([make_reading(c=9.5)])
    with closing(another(influx, tmp_path)) as again:
        assert again.known([(EDGE, T0)]) == {(EDGE, T0): 12_000}
        expected = Conflict(EDGE, T0, 9_500, 12_000, T0 + 2_000)
        assert [again.merge([make_reading(c=9.5)]) for _ in range(2)] == [[expected]] * 2


@pytest.mark.row("S1")
def test_what_the_server_has_lost_is_written_again_with_the_next_reading(
    influx: tuple[Server, Adapter], store: Readings, tmp_path: Path
) -> None:
    batch = [make_reading(minutes=m) for m in range(30)]
    store.merge(batch)
    store.merge([make_reading(c=9.5)])
    assert "error" not in told(influx, f"DELETE FROM slabhour_reading WHERE site = '{site_in(tmp_path)}'")  # noqa: S608 - a test's own
    assert len(store.between(EDGE, 0, 2**62)) == 0
    store.merge([make_reading(INSIDE)])
    assert list(store.rows(EDGE, 0, 2**62)) == [make_reading(c=9.5), *batch[1:]]


def test_what_was_forgotten_does_not_come_back(store: Readings) -> None:
    store.merge([make_reading(minutes=m) for m in range(30)])
    assert store.forget(EDGE, T0 + DAY_MS) == 30
    store.merge([make_reading(INSIDE)])
    assert len(store.between(EDGE, 0, 2**62)) == 0


@pytest.mark.row("S10")
def test_a_field_of_another_type_stops_the_store_and_gives_no_reading_up(
    influx: tuple[Server, Adapter], store: Readings
) -> None:
    """Types hold a week (a shard): another program was first in one that no other test writes to."""
    week = T0 - 700 * DAY_MS
    line = f"slabhour_reading,site=elsewhere,sensor=x milli_c=1i,received_ms=1.0 {week}".encode()
    assert ask(influx[0].port, "POST", f"/write?db={BUCKET}&precision=ms", line)[0] == 204
    with pytest.raises(StoreError, match="field type conflict") as caught:
        store.merge([make_reading(), make_reading(minutes=-700 * 24 * 60)])
    assert not isinstance(caught.value, RejectedError)


def test_keys_far_apart_are_each_found(store: Readings) -> None:
    batch = [make_reading(minutes=180 * n, c=n % 50) for n in range(500)]
    store.merge(batch)
    assert store.known([(r.sensor, r.taken_ms) for r in batch]) == {(r.sensor, r.taken_ms): r.milli_c for r in batch}
    assert store.merge(batch) == []
