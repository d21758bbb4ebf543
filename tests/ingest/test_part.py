"""Part of a site's topics: what a worker listens to, what is left to the service, and by which name it is known."""

from __future__ import annotations

import pytest
from ingest_support import SITE, Bench

from ingest.part import name_of, part_of, without
from shared.errors import SlabError

WHOLE = f"slabhour/{SITE}/r/+"


@pytest.mark.parametrize("name", [WHOLE, f"slabhour/{SITE}/r/lg-01"])
def test_a_worker_takes_a_filter_of_the_site_or_a_narrower_one_with_its_qos(name: str) -> None:
    whole = Bench().intake
    assert [f for f, _ in whole.subscriptions()] == [WHOLE]
    assert list(part_of(whole, [name]).subscriptions()) == [(name, 1)]


@pytest.mark.parametrize("name", ["#", f"slabhour/{SITE}/r/#", f"slabhour/{SITE}/+/lg-01", "slabhour/other/r/lg-01"])
def test_no_worker_listens_beyond_the_site_file(name: str) -> None:
    with pytest.raises(SlabError, match="no topic of the site file covers"):
        part_of(Bench().intake, [name])


def test_what_workers_take_the_service_does_not_ask_for() -> None:
    assert list(without(Bench().intake, [WHOLE]).subscriptions()) == []


def test_a_worker_is_known_by_its_topics_in_any_order_and_by_no_others() -> None:
    whole = Bench().intake
    one, two, three = (f"slabhour/{SITE}/r/lg-0{n}" for n in (1, 2, 3))
    name = name_of(part_of(whole, [one, two]))
    assert name == name_of(part_of(whole, [two, one]))
    assert name != name_of(part_of(whole, [one, three]))
