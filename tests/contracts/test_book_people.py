"""The contract of `PeopleBook`: who may come in, and the log line of whatever changes it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from store_support import T0, make_log

from shared.models.accounts import Account, DeviceKey, Invitation, Session
from shared.models.people import Role
from shared.store.book import SiteBook

LATER = T0 + 1000
ANNA = Account("anna", Role.VIEWER, "$argon2id$1", "SECRET", T0)
INVITED = Invitation("d1", "anna", Role.VIEWER, "admin", T0, LATER)
SESSION = Session("s1", "anna", "csrf-1", T0, LATER)
DEVICE = DeviceKey(1, "k1", "hut screen", "qc", T0)
LOG = make_log("person", who="anna")


def lines(book: SiteBook) -> int:
    return len(book.board.log_after(0))


def joined(book: SiteBook, account: Account = ANNA) -> SiteBook:
    book.people.invite(replace(INVITED, person=account.id), LOG)
    assert book.people.join("d1", account, LOG)
    return book


def test_an_invitation_makes_an_account_once(book: SiteBook) -> None:
    before = lines(book)
    book.people.invite(INVITED, LOG)
    assert book.people.invitation("d1", T0) == INVITED
    assert book.people.join("d1", ANNA, LOG)
    assert book.people.account("anna") == ANNA
    assert lines(book) == before + 2
    assert not book.people.join("d1", replace(ANNA, hashed="$argon2id$2"), LOG)
    assert (book.people.accounts(), lines(book)) == ([ANNA], before + 2)


def test_an_invitation_that_has_run_out_or_was_never_given_makes_nothing(book: SiteBook) -> None:
    book.people.invite(INVITED, LOG)
    assert book.people.invitation("d1", LATER) is None
    assert not book.people.join("d1", replace(ANNA, since_ms=LATER), LOG)
    assert not book.people.join("d2", ANNA, LOG)
    assert book.people.accounts() == []


def test_a_newer_invitation_takes_the_place_of_the_older(book: SiteBook) -> None:
    for person in ("anna", None):
        book.people.invite(replace(INVITED, person=person), LOG)
        book.people.invite(replace(INVITED, digest="d2", person=person), LOG)
        assert book.people.invitation("d1", T0) is None
        found = book.people.invitation("d2", T0)
        assert found is not None
        assert found.person == person
        book.people.join("d2", ANNA, LOG)


def test_an_account_made_anew_loses_its_sessions_and_its_old_password(book: SiteBook) -> None:
    joined(book).people.begin_session(SESSION)
    anew = replace(ANNA, hashed="$argon2id$2", since_ms=T0 + 1)
    joined(book, anew)
    assert book.people.account("anna") == anew
    assert book.people.session("s1", T0) is None


def test_a_session_lasts_until_its_hour_and_can_be_ended(book: SiteBook) -> None:
    joined(book).people.begin_session(SESSION)
    assert book.people.session("s1", LATER - 1) == SESSION
    assert book.people.session("s1", LATER) is None
    book.people.begin_session(replace(SESSION, digest="s2", since_ms=LATER, until_ms=LATER + 1))
    assert book.people.session("s1", T0) is None
    book.people.end_session("s2")
    assert book.people.session("s2", LATER) is None


def test_an_account_that_is_ended_lets_nobody_in(book: SiteBook) -> None:
    joined(book).people.begin_session(SESSION)
    book.people.invite(INVITED, LOG)
    before = lines(book)
    assert book.people.end_account("anna", LATER, LOG)
    assert book.people.account("anna") == replace(ANNA, ended_ms=LATER)
    assert (book.people.session("s1", T0), book.people.invitation("d1", T0)) == (None, None)
    assert not book.people.end_account("anna", LATER + 1, LOG)
    assert not book.people.end_account("bert", LATER, LOG)
    assert lines(book) == before + 1


def test_a_code_counts_once_and_never_after_a_later_one(book: SiteBook) -> None:
    joined(book)
    assert [book.people.use_code("anna", step) for step in (7, 7, 6, 8)] == [True, False, False, True]
    assert not book.people.use_code("bert", 9)


def test_a_device_reads_until_its_key_is_ended(book: SiteBook) -> None:
    before = lines(book)
    assert book.people.add_device(DEVICE, LOG) == 1
    assert book.people.devices() == [DEVICE]
    assert book.people.end_device(1, LATER, LOG)
    assert book.people.devices() == []
    assert not book.people.end_device(1, LATER, LOG)
    assert lines(book) == before + 2


@pytest.mark.parametrize("role", [None, *Role])
def test_every_role_is_kept(book: SiteBook, role: Role | None) -> None:
    joined(book, replace(ANNA, role=role))
    found = book.people.account("anna")
    assert found is not None
    assert found.role == role
