from __future__ import annotations

from base64 import b64encode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.logins import Logins
from shared.models.base import LoggerId

ONE, OTHER = LoggerId("lg-01"), LoggerId("lg-02")
PASSWORDS = {ONE: "a-long-password-1", OTHER: "a-long-password-2"}
LOGINS = Logins(PASSWORDS)


def basic(said: str) -> str:
    return f"Basic {b64encode(said.encode()).decode()}"


@pytest.mark.parametrize(
    "said",
    ["Bearer a-long-password-1", "bearer  a-long-password-1", basic("lg-01:a-long-password-1")],
)
def test_the_bearer_of_a_password_and_who_says_name_and_password_is_that_logger(said: str) -> None:
    assert LOGINS.of(said) == {ONE}


@pytest.mark.parametrize(
    "said",
    [
        None,
        "",
        "Bearer",
        "Bearer ",
        "Bearer a-long-password",
        "Bearer a-long-password-1x",
        "Bearer lg-01",
        "a-long-password-1",
        "Digest a-long-password-1",
        basic("lg-01:a-long-password-2"),
        basic("lg-01"),
        basic(":a-long-password-1"),
        basic("lg-03:a-long-password-1"),
        "Basic not base64",
        "Basic /w==",
        "Bearer \udcff\xff",
    ],
)
def test_nobody_else_is_anybody(said: str | None) -> None:
    assert not LOGINS.of(said)


def test_two_with_one_password_are_both_meant_by_its_bearer_and_told_apart_by_name() -> None:
    twins = Logins({ONE: "a-long-password-1", OTHER: "a-long-password-1"})
    assert twins.of("Bearer a-long-password-1") == {ONE, OTHER}
    assert twins.of(basic("lg-02:a-long-password-1")) == {OTHER}


def test_where_nobody_may_sign_in_nobody_does() -> None:
    assert not Logins({}).of("Bearer ")
    assert len(Logins({})) == 0


@given(st.text() | st.text().map(basic) | st.text().map(lambda said: f"Bearer {said}"))
def test_whatever_is_said_is_answered(said: str) -> None:
    assert not LOGINS.of(said) or any(password in said or said.startswith("Basic") for password in PASSWORDS.values())
