"""What the pages are given of a real service: tickets, form sets and requirements in one story on the site book."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from backup_support import SIGNED_MS, little_setup, release_strip, service_of, strip_of
from deploy_support import END_MS, POUR, START_MS, act

from cure.form_sets import KIND, places
from cure.tickets import of
from deploy.page_parts import page_parts
from shared.errors import ActRefusedError
from shared.models.acts import Require, instant
from shared.models.base import MINUTE_MS, PourId
from shared.models.decisions import GateState, HoldKind
from shared.models.requirement import Requirement

STRICT = Requirement.model_validate({"operation": "strip", "all": [{"lower_bound_mpa": 60.0}]})


def test_what_the_pages_do_stands_on_the_site_book(tmp_path: Path) -> None:
    setup = little_setup(tmp_path)
    with service_of(setup, START_MS) as (service, clock):
        release_strip(service, clock)
        now = SIGNED_MS + MINUTE_MS
        clock.set(now)
        parts = page_parts(service, service.apply, demo=False)
        before = service.book.service.log_head()

        # What it would change is told, and nothing of it is kept.
        new = Require(at=instant(now), who="eng", requirement=STRICT, second_person="qc-one", why="rev 3")
        (told,) = parts.preview(new)
        assert (told.pour, told.before, told.after) == (POUR, GateState.RELEASED, GateState.WITHDRAWN)
        assert service.book.service.log_head() == before
        assert strip_of(service) is GateState.RELEASED

        # A set cannot leave before its strip is done.
        parts.apply(act("form_set", now, form_set="set-a", bay="2-b1"))
        with pytest.raises(ActRefusedError, match="is released"):
            parts.apply(act("form_set", now, form_set="set-a"))
        for kind in ("under_way", "done"):
            parts.apply(act(kind, now, pour=POUR, operation="strip"))
        parts.apply(act("form_set", now, form_set="set-a"))
        assert places(parts.board.acts_of(KIND))["set-a"].bay is None

        # An odd ticket, its picture, the hold, and who answers for it.
        digest, _ = parts.photos.keep(b"a picture")
        hours: dict[str, Any] = {"batched": instant(START_MS + MINUTE_MS), "placed": instant(END_MS - MINUTE_MS)}
        parts.apply(act("ticket", now, pour=POUR, number="7", mix="c32-f", water_l=9.0, photo=digest, **hours))
        (row,) = parts.board.board()
        assert [h.kind for h in row.holds] == [HoldKind.TICKET]
        assert [t["photo"] for t in of(row.state.memory)] == [digest]
        assert (tmp_path / "var" / "photos" / digest).read_bytes() == b"a picture"
        parts.apply(act("lift", now, "qc-one", pour=POUR, hold="ticket in doubt", why="tested"))
        assert parts.board.board()[0].holds == ()

        # The engineer's requirement does to what is done what was told of what was released.
        parts.apply(new)
        service.rounds.run_due()
        assert parts.board.edits(row.pour.bay)[0].requirement == STRICT
        assert service.book.cure.case(PourId(POUR)).gates
    with service_of(setup, SIGNED_MS + 2 * MINUTE_MS) as (service, _):
        assert len(of(service.book.board.board()[0].state.memory)) == 1
