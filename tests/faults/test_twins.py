"""Two hosts that run one site, each with a copy of its stores: by their shared anchors one of them finds out.

Two services on one folder: `tests/e2e/test_full_disk.py`. Two clients of one id: `tests/ingest/test_listener_lost.py`.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from backup_support import SIGNED_MS, later, little_setup, release_strip, service_of, strip_of
from deploy_support import POUR, act, poured

from deploy.folders import with_data
from shared.errors import SlabError
from shared.models.decisions import GateState


@pytest.mark.row("H9")
def test_a_host_that_goes_on_with_an_older_copy_finds_the_others_anchor_and_releases_nothing(tmp_path: Path) -> None:
    anchors = '[site]\nanchors = "shared-anchors.jsonl"'
    one = little_setup(tmp_path, **{"[site]": anchors})
    two = with_data(one, tmp_path / "other")
    with service_of(one, poured()[0].at_ms) as (service, clock):
        release_strip(service, clock)
    shutil.copytree(tmp_path / "var", tmp_path / "other")
    with service_of(one, later(1)) as (first, _), service_of(two, later(1)) as (second, clock):
        # Each has its own folder, so no lock tells them apart.
        first.apply(act("stop", later(1), "anybody", pour=POUR, why="crack"))
        first.self_check.anchor(at_once=True)
        assert strip_of(second) is GateState.RELEASED
        assert not second.self_check.verify()
        second.tick()
        assert strip_of(second) is GateState.SUSPENDED
        (doubt,) = second.book.service.doubts()
        assert "kept outside the book" in doubt.reason
        with pytest.raises(SlabError):
            second.apply(act("sign", clock.now(), pour=POUR, operations=["walk"]))
        # The one that wrote the anchor is not disturbed by it.
        assert first.self_check.verify()
        assert strip_of(first) is GateState.WITHDRAWN
    assert later(1) > SIGNED_MS
