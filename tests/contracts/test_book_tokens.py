"""The contract of `TokenBook`: tokens, and keys that are carried out once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from store_support import T0, make_log

from shared.errors import StoreError
from shared.models.tokens import KeptAnswer, Scope, Token
from shared.store.book import SiteBook
from shared.store.book_tokens import KEPT_MS

LOG = make_log("person", who="qc")
TOKEN = Token(1, "d" * 64, "hut", "super", frozenset({Scope.READ, Scope.ACT}), "qc", T0, T0 + 1000)


def test_a_token_is_kept_with_a_log_line_until_it_is_ended(book: SiteBook) -> None:
    before = len(book.board.log_after(0))
    assert book.tokens.token(TOKEN.digest) is None
    assert book.tokens.add_token(TOKEN, LOG) == 1
    assert book.tokens.token(TOKEN.digest) == TOKEN
    assert (TOKEN.holds(T0), TOKEN.holds(T0 + 1000)) == (True, False)
    with pytest.raises(StoreError):
        book.tokens.add_token(TOKEN, LOG)
    assert book.tokens.end_token(1, T0 + 5, LOG)
    assert not book.tokens.end_token(1, T0 + 6, LOG)
    ended = replace(TOKEN, ended_ms=T0 + 5)
    assert book.tokens.tokens() == [ended]
    assert not ended.holds(T0 + 6)
    assert len(book.board.log_after(0)) == before + 2


def test_a_key_is_taken_once_and_keeps_its_answer_for_a_week(book: SiteBook) -> None:
    assert book.tokens.add_token(TOKEN, LOG) == 1
    assert book.tokens.begin(1, "k", "asked", T0) is None
    assert book.tokens.begin(1, "k", "other", T0 + 1) == KeptAnswer("asked", T0)
    assert book.tokens.begin(1, "given back", "asked", T0) is None
    book.tokens.drop(1, "given back")
    assert book.tokens.begin(1, "given back", "other", T0) is None
    book.tokens.settle(1, "k", 200, {"done": True})
    book.tokens.drop(1, "k")
    assert book.tokens.begin(1, "k", "asked", T0 + KEPT_MS) == KeptAnswer("asked", T0, 200, {"done": True})
    assert book.tokens.begin(1, "k", "asked", T0 + KEPT_MS + 1) is None
