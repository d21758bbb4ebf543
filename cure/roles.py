"""Who may do what: a person is known and has one of the roles that an act takes."""

from __future__ import annotations

from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.people import Role
from shared.models.setup import SiteFile


def check_role(site: SiteFile, act: acts.ActBase, roles: tuple[Role, ...]) -> None:
    """Raise `ActRefusedError` unless the person is known and has one of the roles."""
    person = site.person(act.who)
    if person is None:
        raise ActRefusedError(f"nobody called {act.who!r} is in the site file; add a [[recipient]] with a role")
    if person.role not in roles:
        raise ActRefusedError(f"{act.who} is {person.role}; this takes one of: {', '.join(roles)}")


def check_second(site: SiteFile, act: acts.ActBase, second_person: str | None, roles: tuple[Role, ...]) -> None:
    """Raise `ActRefusedError` unless a second person, other than the first, is known and has one of the roles."""
    second = None if second_person is None else site.person(second_person)
    if second is None or second.id == act.who or second.role not in roles:
        raise ActRefusedError(f"this takes a second person, one of: {', '.join(roles)}")
