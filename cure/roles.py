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


def is_second(site: SiteFile, act: acts.ActBase, second_person: str | None, roles: tuple[Role, ...]) -> bool:
    """Return whether a second person, other than the first, is known and has one of the roles."""
    second = None if second_person is None else site.person(second_person)
    return second is not None and second.id != act.who and second.role in roles


def check_second(site: SiteFile, act: acts.ActBase, second_person: str | None, roles: tuple[Role, ...]) -> None:
    """Raise `ActRefusedError` unless there is such a second person."""
    if not is_second(site, act, second_person, roles):
        raise ActRefusedError(f"this takes a second person, one of: {', '.join(roles)}")
