"""Looks at the InfluxDB of a site and makes what its readings need: for `slabhour check`, and `check --fix`.

Real servers of 2.x were not at hand when this was written: what it asks of them follows their documents.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from influxdb_client import Bucket, DBRPCreate, DBRPsService, PostBucketRequest
from influxdb_client.client.exceptions import InfluxDBError

from shared.errors import StoreError
from shared.models.setup import Setup
from shared.models.stores import InfluxSettings
from shared.store.influx_server import InfluxServer

PROBE: Final = "slabhour_check"
LONG_AGO_MS: Final = 1_577_836_800_000
"""2020-01-01T00:00Z: a bucket that forgets does not take a point of that day."""
POLICY: Final = "autogen"
"""What a 1.x server calls the way in which a database keeps, and 2.x the virtual one of a bucket."""


class InfluxSetup:
    """The `ReadingsServer` port on InfluxDB 1.8 and 2.x."""

    def __init__(self, setup: Setup) -> None:
        settings = setup.site.stores.readings
        if not isinstance(settings, InfluxSettings):
            raise StoreError("the site file names no InfluxDB for its readings")
        self._settings = settings
        self._folder = Path(setup.folder)
        self._site = setup.site.site.id

    @contextmanager
    def _server(self) -> Iterator[InfluxServer]:
        with closing(InfluxServer(self._settings, self._folder)) as server:
            yield server

    def look(self) -> str:
        with self._server() as server:
            version = _version(server)
            faulty = server.write([f"{PROBE},site={self._site} written=1.0 {LONG_AGO_MS}"])
            if faulty:
                why = f"{faulty[0].why}: it must keep readings for ever"
                raise StoreError(f"the bucket {server.bucket} does not take what is old: {why}")
            where = f"site = '{self._site}' AND time >= {LONG_AGO_MS}ms AND time <= {LONG_AGO_MS}ms"
            (found,) = server.query([f"SELECT written FROM {PROBE} WHERE {where}"])  # noqa: S608 - a site id is checked
            if [series.values for series in found] != [[[LONG_AGO_MS, 1]]]:
                raise StoreError(f"the bucket {server.bucket} does not have what was just written to it")
            return f"InfluxDB {version} at {self._settings.url}, bucket {server.bucket}: wrote and read back"

    def mend(self) -> Sequence[str]:
        with self._server() as server:
            if _version(server).startswith("1."):
                server.query([f'CREATE DATABASE "{server.bucket}"'])
                return [f"database {server.bucket}, if it was not there"]
            return server.patiently("set it up", lambda: _made(server))


def _version(server: InfluxServer) -> str:
    """Return the version. Raises `StoreError` when it is none that the store is written for."""
    said = server.version().removeprefix("v")
    if not re.match(r"[12]\.", said):
        # Others take line protocol too, and acknowledge what is not on disk, or forget, or cannot delete.
        raise StoreError(f"{server.where} calls its version {said}: readings can be kept in InfluxDB 1.8 and 2.x")
    return said


def _made(server: InfluxServer) -> list[str]:
    made = []
    try:
        buckets = server.client.buckets_api()
        bucket: Bucket | None = buckets.find_bucket_by_name(server.bucket)
        if bucket is None:
            organisation = _organisation(server)
            bucket = buckets.create_bucket(
                PostBucketRequest(org_id=organisation, name=server.bucket, retention_rules=[])
            )
            made.append(f"bucket {server.bucket}, which keeps for ever")
        mappings = DBRPsService(server.client.api_client)
        org_id = bucket.org_id
        there = mappings.get_dbr_ps(org_id=org_id, db=server.bucket).content or []
        if not any(one.bucket_id == bucket.id and one.default for one in there):
            wanted = DBRPCreate(
                org_id=org_id, bucket_id=bucket.id, database=server.bucket, retention_policy=POLICY, default=True
            )
            mappings.post_dbrp(wanted)
            made.append(f"mapping of the database {server.bucket} to it")
    except InfluxDBError as error:
        if getattr(error, "status", None) is not None:
            raise
        raise StoreError(f"{server.where}: {error}") from error
    return made


def _organisation(server: InfluxServer) -> str:
    for one in server.client.organizations_api().find_organizations(org=server.org):
        return str(one.id)
    raise StoreError(f"{server.where}: there is no organisation {server.org}: see org")
