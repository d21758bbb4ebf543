"""`slabhour check` and `check --fix` on Debian's InfluxDB, and on a server that answers as the documents of 2.x say."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from influx_support import (
    NEEDS_INFLUXDB,
    NEEDS_VICTORIA,
    Adapter,
    Server,
    influx_running,
    influx_setup,
    make_bucket,
    victoria,
)
from ordered_server import Answer, ordered
from store_support import make_setup

from shared.errors import StoreError
from shared.ports import ReadingsServer
from shared.store import readings_server


@pytest.fixture(scope="module")
def influx(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Adapter]]:
    with influx_running(tmp_path_factory.mktemp("influxdb")) as running:
        yield running


def server_of(url: str, **more: str) -> ReadingsServer:
    found = readings_server(influx_setup(url, **more))
    assert found is not None
    return found


def test_readings_in_a_file_have_no_server() -> None:
    assert readings_server(make_setup()) is None


@pytest.mark.needs_influxdb
@NEEDS_INFLUXDB[1]
def test_a_bucket_that_is_not_there_is_named_and_made(influx: tuple[Server, Adapter]) -> None:
    server = server_of(influx[1].url, bucket="not-yet")
    with pytest.raises(StoreError, match="check --fix makes the bucket not-yet"):
        server.look()
    assert server.mend() == ["database not-yet, if it was not there"]
    assert server.mend() == ["database not-yet, if it was not there"]
    for _ in range(2):
        assert server.look().startswith("InfluxDB 1.6.7")


@pytest.mark.needs_influxdb
@NEEDS_INFLUXDB[1]
@pytest.mark.row("S13")
def test_a_bucket_that_forgets_is_not_accepted(influx: tuple[Server, Adapter]) -> None:
    make_bucket(influx[0], "forgets", "WITH DURATION 52w")
    with pytest.raises(StoreError, match=r"forgets does not take what is old: .* it must keep readings for ever"):
        server_of(influx[1].url, bucket="forgets").look()


@pytest.mark.needs_influxdb
@NEEDS_INFLUXDB[1]
def test_without_the_address_of_2_x_the_server_is_not_accepted(influx: tuple[Server, Adapter]) -> None:
    with pytest.raises(StoreError, match="cannot write: 404"):
        server_of(f"http://127.0.0.1:{influx[0].port}").look()


@pytest.mark.needs_influxdb
@NEEDS_VICTORIA[1]
def test_a_server_that_acknowledges_what_is_not_on_disk_is_not_accepted(tmp_path: Path) -> None:
    other = victoria(tmp_path)
    other.start()
    try:
        with pytest.raises(StoreError, match=r"version unknown: readings can be kept in InfluxDB 1\.8"):
            server_of(f"http://127.0.0.1:{other.port}").look()
    finally:
        other.kill()


def body(**said: object) -> bytes:
    return json.dumps(said).encode()


BUCKET = {"id": "00000000000000b1", "orgID": "00000000000000a1", "name": "slab", "retentionRules": []}
PING = {"GET /ping": Answer(204)}
FOUND = {"GET /api/v2/buckets": Answer(200, body(buckets=[BUCKET]))}
MAPPED = {
    "id": "00000000000000d1", "orgID": BUCKET["orgID"], "bucketID": BUCKET["id"], "database": "slab",
    "retention_policy": "autogen", "default": True,
}  # fmt: skip


def test_of_2_x_bucket_and_mapping_are_made() -> None:
    paths = PING | {
        "GET /api/v2/buckets": Answer(200, body(buckets=[])),
        "GET /api/v2/orgs": Answer(200, body(orgs=[{"id": BUCKET["orgID"], "name": "site"}])),
        "POST /api/v2/buckets": Answer(201, json.dumps(BUCKET).encode()),
        "GET /api/v2/dbrps": Answer(200, body(content=[])),
        "POST /api/v2/dbrps": Answer(201, json.dumps(MAPPED).encode()),
    }
    with ordered(Answer(500), paths=paths) as front:
        made = server_of(front.url, org="site").mend()
        assert made == ["bucket slab, which keeps for ever", "mapping of the database slab to it"]
        posted = {r.path: json.loads(r.body) for r in front.requests if r.method == "POST"}
    # `rp` is of the client's own making: 0 for ever.
    assert posted["/api/v2/buckets"] == {"orgID": BUCKET["orgID"], "name": "slab", "retentionRules": [], "rp": "0"}
    assert posted["/api/v2/dbrps"] == {key: value for key, value in MAPPED.items() if key != "id"}


def test_of_2_x_what_is_there_is_left_alone() -> None:
    paths = PING | FOUND | {"GET /api/v2/dbrps": Answer(200, body(content=[MAPPED]))}
    with ordered(Answer(500), paths=paths) as front:
        assert server_of(front.url, org="site").mend() == []
        assert [r.method for r in front.requests] == ["GET"] * len(front.requests)


def test_of_2_x_an_organisation_that_is_not_there_is_named() -> None:
    paths = PING | {
        "GET /api/v2/buckets": Answer(200, body(buckets=[])),
        "GET /api/v2/orgs": Answer(200, body(orgs=[])),
    }
    with ordered(Answer(500), paths=paths) as front, pytest.raises(StoreError, match="no organisation elsewhere"):
        server_of(front.url, org="elsewhere").mend()


def test_a_token_that_may_not_make_a_bucket_is_told() -> None:
    paths = PING | {"GET /api/v2/buckets": Answer(403, body(message="forbidden"))}
    with ordered(Answer(500), paths=paths) as front, pytest.raises(StoreError, match=r"403 forbidden.*token_file"):
        server_of(front.url, org="site").mend()


def test_a_server_that_is_not_there_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shared.store.influx_server.PATIENCE_S", 0.1)
    with pytest.raises(StoreError, match=r"cannot reach it: .*does not answer"):
        server_of("http://127.0.0.1:9").look()
