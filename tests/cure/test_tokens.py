"""Who may make tokens, for whom, and what a token's person may do."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pages_support import SITE
from store_support import T0, make_log, opened_book

from cure.tokens import apply, role_now
from shared.errors import ActRefusedError
from shared.models.accounts import Account, Invitation
from shared.models.acts import act_from, instant
from shared.models.people import Role
from shared.store.book import SiteBook

MAKE = {"kind": "make_token", "name": "office", "person": "qc", "scopes": ["read"], "digest": "a" * 64}


@pytest.fixture
def book(tmp_path: Path) -> Iterator[SiteBook]:
    with opened_book(tmp_path) as opened:
        yield opened


def done(book: SiteBook, **act: Any) -> None:
    made: Any = act_from({"at": instant(T0), "who": "qc", **act})
    apply(book.tokens, book.people, SITE, made, T0)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"who": "crew"}, "crew is crew; this takes one of: qc, engineer, admin"),
        ({"who": "nobody"}, "nobody is nobody here"),
        ({"person": "stranger"}, "stranger is nobody here"),
        ({"scopes": ["calendar", "act"]}, "stand alone"),
        ({"scopes": ["metrics", "read"]}, "stand alone"),
        ({"until": instant(T0)}, "in the future"),
        ({"at": instant(T0 + 600_000)}, "before its time"),
    ],
)
def test_what_cannot_be_made_is_refused_with_the_reason(book: SiteBook, changes: Any, said: str) -> None:
    with pytest.raises(ActRefusedError, match=said):
        done(book, **{**MAKE, **changes})
    assert book.tokens.tokens() == []


def test_a_token_is_made_once_and_ended_once(book: SiteBook) -> None:
    done(book, **MAKE)
    with pytest.raises(ActRefusedError):
        done(book, **MAKE)
    assert [t.person for t in book.tokens.tokens()] == ["qc"]
    done(book, kind="end_token", token=1)
    with pytest.raises(ActRefusedError, match="no token 1 that goes on"):
        done(book, kind="end_token", token=1)
    events = [e.body["event"] for _, e in book.board.log_after(0) if e.what == "person"]
    assert events == ["token made", "token ended"]
    assert "a" * 64 not in str(book.board.log_after(0))


def test_an_ended_account_ends_what_its_tokens_open(book: SiteBook) -> None:
    assert role_now(book.people, SITE, "qc") is Role.QC
    book.people.invite(Invitation("d", "qc", None, "admin", T0, T0 + 1), make_log("person"))
    assert book.people.join("d", Account("qc", None, "h", None, T0), make_log("person"))
    assert role_now(book.people, SITE, "qc") is Role.QC
    book.people.end_account("qc", T0, make_log("person"))
    assert role_now(book.people, SITE, "qc") is None
