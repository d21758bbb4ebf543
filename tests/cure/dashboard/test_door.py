from __future__ import annotations

import pyotp
import pytest
from pages_support import NOW, PASSWORD, SECRET, Bench

from cure.dashboard import door
from shared.models.people import Role

# RFC 6238, Appendix B: the 8 digits printed for SHA-1 at these seconds end in these six.
RFC_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # noqa: S105 - printed in the standard
PRINTED = [(59, "287082"), (1111111109, "081804"), (1234567890, "005924"), (2000000000, "279037")]


@pytest.mark.parametrize(("second", "code"), PRINTED)
def test_codes_are_those_of_the_standard(second: int, code: str) -> None:
    assert door.step_of(RFC_SECRET, code, second * 1000) == second // 30


@pytest.mark.parametrize(("later_s", "known"), [(-60, False), (-30, True), (0, True), (30, True), (60, False)])
def test_a_code_is_of_now_or_its_neighbours(later_s: int, known: bool) -> None:
    code = pyotp.TOTP(SECRET).at(NOW // 1000 + later_s)
    assert (door.step_of(SECRET, code, NOW) is not None) is known


@pytest.mark.parametrize("code", ["", "12345", "1234567", "abcdef", "\uff11\uff12\uff13\uff14\uff15\uff16", "-12345"])
def test_what_is_no_code_is_refused(code: str) -> None:
    assert door.step_of(SECRET, code, NOW) is None


def test_a_code_counts_once(bench: Bench) -> None:
    account = bench.account(Role.QC)
    code = bench.code()
    assert [door.use_code(bench.people, account, code, NOW) for _ in range(2)] == [True, False]


def test_a_password_is_its_account_s_alone(bench: Bench) -> None:
    account = bench.account(Role.QC)
    assert account.hashed.startswith("$argon2id$")
    assert door.is_password(account, PASSWORD)
    assert not door.is_password(account, PASSWORD + " ")
    assert not door.is_password(None, PASSWORD)


def test_what_is_kept_of_a_token_is_not_the_token() -> None:
    token = door.new_token()
    assert token not in door.digest_of(token)
    assert door.new_token() != token
