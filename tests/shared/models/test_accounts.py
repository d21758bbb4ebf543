from __future__ import annotations

from dataclasses import replace

import pytest
from store_support import T0, make_site

from shared.models.accounts import OWN_ROLES, Account, role_of
from shared.models.people import Role

QC = Account("qc", None, "hash", None, T0)


def test_the_site_file_says_the_role_of_whoever_is_in_it() -> None:
    assert role_of(make_site(), QC) is Role.QC
    assert role_of(make_site(), replace(QC, role=Role.ADMIN)) is Role.QC


@pytest.mark.parametrize("role", [None, *Role])
def test_nobody_acts_on_a_pour_without_being_in_the_site_file(role: Role | None) -> None:
    assert role_of(make_site(), replace(QC, id="gone", role=role)) == (role if role in OWN_ROLES else None)


def test_an_account_that_was_ended_has_no_role() -> None:
    assert role_of(make_site(), replace(QC, ended_ms=T0)) is None
