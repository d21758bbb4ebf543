"""Who may come in, for other software to read. Letting somebody in is done at the page, by a person alone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from pydantic import BaseModel

from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, CallerIn
from cure.dashboard.rules import API
from shared.models.accounts import role_of


class PersonAnswer(BaseModel):
    """Somebody who has an account, or stands in the site file without one."""

    id: str
    role: str | None
    """Null: the account was ended."""
    since: datetime | None
    """When the account was made; null: there is none."""
    second_factor: bool


class DeviceAnswer(BaseModel):
    """A screen that reads without a person."""

    no: int
    name: str
    by: str
    since: datetime


def people(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route."""
    book = api.parts.people

    def persons(caller: CallerIn) -> m.Page[PersonAnswer]:
        """Everybody with an account, and everybody of the site file, by name."""
        accounts, site = book.accounts(), caller.site
        found = [
            PersonAnswer(
                id=a.id,
                role=role_of(site, a),
                since=views.hour(a.since_ms, site),
                second_factor=a.secret is not None,
            )
            for a in accounts
        ]
        known = {a.id for a in accounts}
        found += [
            PersonAnswer(id=r.id, role=r.role, since=None, second_factor=False)
            for r in site.recipient
            if r.id not in known
        ]
        return m.Page[PersonAnswer](items=sorted(found, key=lambda p: p.id), next=None)

    def devices(caller: CallerIn) -> m.Page[DeviceAnswer]:
        """Every screen that has a key."""
        found = [
            DeviceAnswer(no=d.no, name=d.name, by=d.by, since=views.hour(d.since_ms, caller.site))
            for d in book.devices()
        ]
        return m.Page[DeviceAnswer](items=found, next=None)

    return {("GET", f"{API}/people"): persons, ("GET", f"{API}/devices"): devices}
