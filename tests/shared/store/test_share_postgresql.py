"""Shares of the pours: each is one process's, all are somebody's, and those of one that is gone go to the others."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, closing

import psycopg
import pytest
from postgresql_support import NEEDS_POSTGRESQL, PostgresqlServer, postgresql

from shared.clock import SystemClock
from shared.errors import StoreError
from shared.models.base import MINUTE_MS, PourId
from shared.store.share_postgresql import PostgresqlShare

pytestmark = [*NEEDS_POSTGRESQL]
POURS = [PourId(f"{floor}-b{bay}-p1") for floor in range(10) for bay in range(30)]


@pytest.fixture(scope="module")
def server() -> Iterator[PostgresqlServer]:
    with postgresql() as running:
        yield running


@pytest.fixture
def dsn(server: PostgresqlServer) -> str:
    return server.dsn(server.made())


def look(*shares: PostgresqlShare) -> None:
    """Let each join, then each see all."""
    for share in (*shares, *shares):
        share.look(SystemClock().now())


def owners(*shares: PostgresqlShare) -> dict[PourId, list[int]]:
    return {pour: [n for n, share in enumerate(shares) if share.mine(pour)] for pour in POURS}


def test_nothing_is_anybodys_before_it_has_looked(dsn: str) -> None:
    with closing(PostgresqlShare(dsn)) as share:
        assert not any(share.mine(pour) for pour in POURS)
        look(share)
        assert all(share.mine(pour) for pour in POURS)


def test_each_pour_is_exactly_ones_and_nobody_has_nearly_all(dsn: str) -> None:
    with ExitStack() as stack:
        shares = [stack.enter_context(closing(PostgresqlShare(dsn))) for _ in range(3)]
        look(*shares)
        found = owners(*shares)
        assert {len(of) for of in found.values()} == {1}
        # 300 pours in three: 100 each, standard deviation 8; one in 10^8 would be outside.
        assert all(50 < sum(of == [n] for of in found.values()) < 150 for n in range(3))


def test_when_one_goes_only_its_own_pours_move(dsn: str) -> None:
    with ExitStack() as stack:
        shares = [stack.enter_context(closing(PostgresqlShare(dsn))) for _ in range(3)]
        look(*shares)
        before = owners(*shares)
        shares[2].close()
        look(*shares[:2])
        after = owners(*shares)
        assert {len(of) for of in after.values()} == {1}
        assert all(after[pour] == of for pour, of in before.items() if of != [2])
        assert not any(shares[2].mine(pour) for pour in POURS)


def test_one_whose_connection_was_ended_judges_nothing_until_it_has_joined_again(dsn: str) -> None:
    with closing(PostgresqlShare(dsn)) as share:
        look(share)
        with psycopg.connect(dsn, autocommit=True) as other:
            ended = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'slabhour share'"
            assert other.execute(ended + " AND datname = current_database()").fetchall() == [(True,)]
        with pytest.raises(StoreError, match="site book on PostgreSQL"):
            share.look(SystemClock().now())
        assert not any(share.mine(pour) for pour in POURS)
        look(share)
        assert all(share.mine(pour) for pour in POURS)


@pytest.mark.parametrize("off_ms", [-MINUTE_MS, MINUTE_MS])
def test_one_whose_clock_is_off_judges_nothing(dsn: str, off_ms: int) -> None:
    with closing(PostgresqlShare(dsn)) as share:
        look(share)
        with pytest.raises(StoreError, match="60 s off that of the server"):
            share.look(SystemClock().now() + off_ms)
        assert not any(share.mine(pour) for pour in POURS)


def test_sites_in_two_databases_of_a_server_do_not_share(server: PostgresqlServer) -> None:
    with (
        closing(PostgresqlShare(server.dsn(server.made()))) as one,
        closing(PostgresqlShare(server.dsn(server.made()))) as two,
    ):
        look(one, two)
        assert all(one.mine(pour) and two.mine(pour) for pour in POURS)
