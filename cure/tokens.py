"""Tokens of other software, made and ended: who may, for whom, and the line in the log."""

from __future__ import annotations

from shared.act_checks import check_hour
from shared.errors import ActRefusedError, StoreError
from shared.models.accounts import role_of
from shared.models.acts import EndToken, MakeToken, TokenAct, ms
from shared.models.base import Ms
from shared.models.decisions import LogEntry
from shared.models.people import Role
from shared.models.setup import SiteFile
from shared.models.tokens import ALONE, Token
from shared.ports import PeopleBook, TokenBook

MAKERS = (Role.QC, Role.ENGINEER, Role.ADMIN)
"""Who may let other software in: those who give keys to screens."""


def role_now(people: PeopleBook, site: SiteFile, person: str) -> Role | None:
    """Return what a person may do at this moment; None: nothing, or nothing any more.

    Somebody of the site file needs no account to stand behind a token, but an account that was ended ends it.
    """
    account = people.account(person)
    if account is not None:
        return role_of(site, account)
    recipient = site.person(person)
    return None if recipient is None else recipient.role


def apply(book: TokenBook, people: PeopleBook, site: SiteFile, act: TokenAct, now: Ms) -> None:
    """Carry out an act about a token. Raises `ActRefusedError`, with nothing done."""
    check_hour(act, now)
    if (role := role_now(people, site, act.who)) not in MAKERS:
        raise ActRefusedError(f"{act.who} is {role or 'nobody here'}; this takes one of: {', '.join(MAKERS)}")
    if isinstance(act, EndToken):
        _end(book, act, now)
    else:
        _make(book, people, site, act, now)


def _end(book: TokenBook, act: EndToken, now: Ms) -> None:
    if not book.end_token(
        act.token, now, LogEntry(now, act.who, "person", {"event": "token ended", "token": act.token})
    ):
        raise ActRefusedError(f"there is no token {act.token} that goes on; `slabhour token list` shows them")


def _make(book: TokenBook, people: PeopleBook, site: SiteFile, act: MakeToken, now: Ms) -> None:
    scopes = frozenset(act.scopes)
    if role_now(people, site, act.person) is None:
        raise ActRefusedError(f"{act.person} is nobody here: neither in the site file nor with an account")
    if scopes & ALONE and len(scopes) > 1:
        alone = " and ".join(sorted(ALONE))
        raise ActRefusedError(f"{alone} stand alone in a token: make another one for the rest")
    until_ms = None if act.until is None else ms(act.until)
    if until_ms is not None and not until_ms > now:
        raise ActRefusedError("a token ends in the future, or when somebody ends it")
    body = {"event": "token made", "name": act.name, "person": act.person, "scopes": sorted(scopes)}
    token = Token(0, act.digest, act.name, act.person, scopes, act.who, now, until_ms)
    try:
        book.add_token(token, LogEntry(now, act.who, "person", body))
    except StoreError as error:
        raise ActRefusedError(str(error)) from error
