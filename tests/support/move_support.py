"""The little site with its stores in other places: files of a folder, a PostgreSQL server, an InfluxDB."""

from __future__ import annotations

from pathlib import Path

from deploy_support import write_site
from postgresql_support import PostgresqlServer

from shared.models.setup import Setup
from shared.sitefile import load

IN_FILES = 'readings = { kind = "sqlite" }'


def site_file(folder: Path, name: str, stores: str = IN_FILES, data: str = "var") -> Path:
    """Write a second site file beside `site.toml`, of the same site; return its path."""
    engineer = '[[recipient]]\nid = "eng"\nrole = "engineer"\n[channel.email]'
    changes = {"[channel.email]": engineer, IN_FILES: stores, 'data = "var"': f'data = "{data}"'}
    beside = folder / "site.toml"
    kept = beside.read_bytes() if beside.exists() else None
    path = write_site(folder, **changes).rename(folder / name)
    if kept is not None and name != beside.name:
        beside.write_bytes(kept)
    return path


def on_server(
    folder: Path,
    server: PostgresqlServer,
    name: str = "site.toml",
    readings: str = IN_FILES,
    template: str = "template0",
) -> Setup:
    """Return the set-up of the little site with its book in a new database, by a site file of that name."""
    made = server.made(template)
    (folder / f"{made}.dsn").write_text(server.dsn(made), encoding="ascii")
    book = f'book = {{ kind = "postgresql", dsn_file = "{made}.dsn" }}'
    return load(site_file(folder, name, f"{readings}\n{book}"))


def influx(url: str, bucket: str = "slab") -> str:
    """Return the line of [stores] that puts the readings into an InfluxDB."""
    return f'readings = {{ kind = "influxdb", url = "{url}", bucket = "{bucket}" }}'
