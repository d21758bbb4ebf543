"""The set-up as the site book accepted it: versions, calibrations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, bindparam, func, select

from shared.errors import StoreError
from shared.models.base import BayId, MixId, Ms, PourId
from shared.models.calibration import Calibration
from shared.models.decisions import LogEntry
from shared.models.setup import BaySettings, MixSettings, Setup, SiteFile
from shared.store import chain
from shared.store import tables as t
from shared.store.codec import canonical, digest_of, parsed
from shared.store.database import inserting
from shared.store.placed import place_by_file


@dataclass(frozen=True, slots=True)
class Accepted:
    """One accepted version of the set-up."""

    version: int
    site: SiteFile
    calibrations: Mapping[str, int]
    """Version in force by mix."""
    bays: Mapping[BayId, BaySettings]
    mixes: Mapping[str, MixSettings]
    beside: Mapping[BayId, frozenset[BayId]]
    """Bays in which a strip disturbs this one: its neighbours, those that name it as neighbour, those below."""
    against: Mapping[BayId, frozenset[BayId]]
    """Bays that share a joist or joint with this one, by whichever names the other."""


def _beside(site: SiteFile, *, below: bool) -> dict[BayId, frozenset[BayId]]:
    found: dict[BayId, set[BayId]] = {b.bay_id: set() for b in site.bay}
    for bay in site.bay:
        found[bay.bay_id].update(BayId(other) for other in (*bay.neighbours, *(bay.below if below else ())))
        for other in bay.neighbours:
            found.setdefault(BayId(other), set()).add(bay.bay_id)
    return {bay: frozenset(others - {bay}) for bay, others in found.items()}


# Built once: making a statement costs more than running it.
NEWEST: Final = select(t.setting.c.version).order_by(t.setting.c.version.desc()).limit(1)
_VERSION: Final = select(t.setting).where(t.setting.c.version == bindparam("of_version"))
_CALIBRATION: Final = select(t.calibration.c.body).where(
    t.calibration.c.mix == bindparam("of_mix"), t.calibration.c.version == bindparam("of_version")
)
HIGHEST: Final = select(func.max(t.calibration.c.version)).where(t.calibration.c.mix == bindparam("of_mix"))
_PUT_IN_FORCE: Final = select(t.act.c.body).where(t.act.c.kind == "calibration")
_NOT_BOUND: Final = select(t.pour.c.id).where(
    t.pour.c.mix == bindparam("of_mix"), t.pour.c.closed_ms.is_(None), t.pour.c.calibration_version.is_(None)
)
"""Pours that no version judges yet: those with one keep it."""


class Settings:
    """Versions of the set-up and of calibrations; parsed once, because they never change."""

    def __init__(self) -> None:
        self._known: dict[int, Accepted] = {}
        self._calibrations: dict[tuple[MixId, int], Calibration] = {}

    def in_force(self, connection: Connection) -> Accepted:
        """Return the newest version."""
        return self.numbered(connection, connection.scalar(NEWEST))

    def bay(self, connection: Connection, newest: Accepted, bay: BayId) -> BaySettings:
        """Return the bay as it is set up, or as it last was: a pour in it outlives its place in the file."""
        for accepted in self._newest_first(connection, newest):
            if bay in accepted.bays:
                return accepted.bays[bay]
        raise StoreError(f"no set-up of this site ever had a bay {bay}")

    def mix(self, connection: Connection, newest: Accepted, mix: MixId) -> MixSettings:
        """Return the mix as it is set up, or as it last was."""
        for accepted in self._newest_first(connection, newest):
            if mix in accepted.mixes:
                return accepted.mixes[mix]
        raise StoreError(f"no set-up of this site ever had a mix {mix}")

    def calibration(self, connection: Connection, mix: MixId, version: int | None) -> Calibration | None:
        """Return that version of a mix's calibration, if it was ever seen."""
        if version is None:
            return None
        if (mix, version) not in self._calibrations:
            body = connection.scalar(_CALIBRATION, {"of_mix": mix, "of_version": version})
            if body is None:
                return None
            self._calibrations[mix, version] = Calibration.model_validate_json(body)
        return self._calibrations[mix, version]

    def _newest_first(self, connection: Connection, newest: Accepted) -> Iterator[Accepted]:
        yield newest
        for version in range(newest.version - 1, 0, -1):
            yield self.numbered(connection, version)

    def numbered(self, connection: Connection, version: int | None) -> Accepted:
        """Return that version of the set-up; None: there is none yet."""
        if version is None:
            raise StoreError("the site book has no set-up yet: start slabhour once with its site file")
        if version not in self._known:
            row = connection.execute(_VERSION, {"of_version": version}).mappings().one()
            site = SiteFile.model_validate_json(row["site"])
            self._known[version] = Accepted(
                version,
                site,
                parsed(row["calibrations"]),
                {b.bay_id: b for b in site.bay},
                {m.id: m for m in site.mix},
                _beside(site, below=True),
                _beside(site, below=False),
            )
        return self._known[version]


def accept(connection: Connection, setup: Setup, now: Ms) -> None:
    """Store the set-up as a new version if it is not the one in force, and what follows from it."""
    for calibration in setup.calibrations.values():
        _keep_calibration(connection, calibration)
    site = setup.site.model_dump(mode="json")
    calibrations = _in_force(connection, setup)
    digest = _digest(site, calibrations)
    last = connection.execute(select(t.setting).order_by(t.setting.c.version.desc()).limit(1)).mappings().first()
    if last is not None:
        _refuse_other_site(setup, parsed(last["site"])["site"]["id"])
    # At every start all open pours are looked at: a kill between the two stores may have left readings unannounced.
    connection.execute(t.pour_state.update().values(next_due_ms=0))
    if last is not None and last["digest"] == digest:
        return
    version = connection.scalar(
        t.setting.insert()
        .values(at_ms=now, digest=digest, site=canonical(site), calibrations=canonical(calibrations))
        .returning(t.setting.c.version)
    )
    before = None if last is None else SiteFile.model_validate_json(last["site"])
    place_by_file(connection, before, setup.site, 0 if last is None else now)
    connection.execute(t.pour.update().values(touched=t.pour.c.touched + 1))
    chain.append(connection, [LogEntry(now, "slabhour", "setup", {"version": version, "digest": digest})])


def is_in_force(connection: Connection, setup: Setup) -> bool:
    """Say whether a site file is the one in force; which calibrations are may be another matter, of `put_in_force`.

    Raises:
        StoreError: it is another site's.
    """
    last = connection.scalar(select(t.setting.c.site).order_by(t.setting.c.version.desc()).limit(1))
    if last is None:
        return False
    _refuse_other_site(setup, parsed(last)["site"]["id"])
    return _digest(parsed(last), {}) == _digest(setup.site.model_dump(mode="json"), {})


def put_in_force(connection: Connection, calibration: Calibration, now: Ms) -> Sequence[PourId]:
    """Store a new version of a mix's calibration and a set-up that names it; return the open pours that it judges.

    Raises:
        StoreError: the version is not above every one before it.
    """
    highest = connection.scalar(HIGHEST, {"of_mix": calibration.mix})
    if highest is not None and calibration.version <= highest:
        raise StoreError(
            f"calibration of {calibration.mix}: version {highest} is on the site book already, so the next is "
            f"{highest + 1}, not {calibration.version}"
        )
    _keep_calibration(connection, calibration)
    last = connection.execute(select(t.setting).order_by(t.setting.c.version.desc()).limit(1)).mappings().one()
    calibrations = {**parsed(last["calibrations"]), calibration.mix: calibration.version}
    connection.execute(
        t.setting.insert().values(
            at_ms=now,
            digest=_digest(parsed(last["site"]), calibrations),
            site=last["site"],
            calibrations=canonical(calibrations),
        )
    )
    return [PourId(pour) for pour in connection.scalars(_NOT_BOUND, {"of_mix": calibration.mix})]


def _digest(site: Mapping[str, Any], calibrations: Mapping[str, int]) -> str:
    # Where the data lie judges nothing, nor when a laboratory opens: with another it is the same set-up.
    judging = {k: v for k, v in site.items() if k not in {"laboratory", "stores"}}
    judging["site"] = {k: v for k, v in site["site"].items() if k != "data"}
    return digest_of({"site": judging, "calibrations": calibrations})


def _in_force(connection: Connection, setup: Setup) -> dict[str, int]:
    """Return the version of each mix that counts: of the file's and one that people put in force the higher."""
    found = {mix: c.version for mix, c in setup.calibrations.items()}
    mixes = {mix.id for mix in setup.site.mix}
    for body in connection.scalars(_PUT_IN_FORCE):
        calibration = parsed(body)["calibration"]
        mix, version = calibration["mix"], int(calibration["version"])
        if mix in mixes:
            found[mix] = max(version, found.get(mix, 0))
    return found


def _refuse_other_site(setup: Setup, stored: str) -> None:
    if stored != setup.site.site.id:
        raise StoreError(
            f"this data folder belongs to the site {stored}, not to {setup.site.site.id}: "
            "give each site its own [site] data folder"
        )


_LATER: Final = ("dose_class", "batch_sd_percent", "own_cylinders")
"""Fields that calibrations once had not: those that were accepted then have none of them in their digest."""


def _keep_calibration(connection: Connection, calibration: Calibration) -> None:
    mix, version = calibration.mix, calibration.version
    body = calibration.model_dump(mode="json")
    for name in _LATER:
        if body[name] is None:
            del body[name]
    digest = digest_of(body)
    stored = connection.scalar(
        select(t.calibration.c.digest).where(t.calibration.c.mix == mix, t.calibration.c.version == version)
    )
    if stored is None:
        row = {"mix": mix, "version": version, "digest": digest, "body": canonical(body)}
        connection.execute(inserting(t.calibration).values(row))
    elif stored != digest:
        raise StoreError(
            f"calibration of {mix}, version {version}, is not what was accepted under that version: "
            "a calibration is never changed; raise the version in its file"
        )
