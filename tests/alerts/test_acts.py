from __future__ import annotations

import pytest
from alerts_support import Site

from shared.errors import ActRefusedError
from shared.models.messages import DeliveryState


def test_confirming_marks_every_accepted_delivery_and_keeps_the_act() -> None:
    site = Site()
    site.withdraw()
    site.run()
    assert site.confirm(42) == 5
    assert set(site.book.states(42).values()) == {DeliveryState.CONFIRMED}
    entry = site.book.rows.log[-1]
    assert (entry.who, entry.what, entry.body["kind"], entry.body["message"]) == ("qc", "act", "confirm", 42)
    assert [a.kind for a in site.book.rows.acts] == ["confirm"]


def test_confirming_what_nobody_has_got_or_what_is_confirmed_is_refused() -> None:
    site = Site(*["fail"] * 5)
    site.withdraw()
    site.run()
    with pytest.raises(ActRefusedError, match=r"message no\. 42: nothing to confirm"):
        site.confirm(42)
    site.run(2)
    assert site.confirm(42) == 5
    with pytest.raises(ActRefusedError):
        site.confirm(42)
