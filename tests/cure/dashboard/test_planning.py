"""One case of page and interface: what it leaves out is the mix's, and what the book says counts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import make_case
from pages_support import NOW, Bench

from cure.dashboard.planning import answered
from cure.plan_request import Request
from cure.planner import Tried
from shared.models.acts import instant
from shared.models.base import HOUR_MS
from shared.models.heat import HeatSettings

DAYS = {"low_c": 10.0, "high_c": 18.0}
HEAT = {"binder_kg": 420.0, "water_binder": 0.45}


def asked(bench: Bench, heat: HeatSettings | None, **said: object) -> Tried:
    """Return the answer for a site whose mix has this heat."""
    site = bench.board.site()
    site = site.model_copy(update={"mix": tuple(m.model_copy(update={"heat": heat}) for m in site.mix)})
    calibration = make_case().calibration
    assert calibration is not None
    parts = replace(bench.parts(), calibrations={"c32-f": calibration})
    request = Request.model_validate({"bay": "2-b1", "start": instant(NOW + 10 * HOUR_MS), **DAYS, **said})
    found = answered(parts, site, request, NOW).what
    assert isinstance(found, Tried)
    return found


def test_a_binder_that_is_left_out_is_the_mixs_with_its_cement_and_its_water(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(type(bench.board), "edits", lambda *_: (), raising=False)
    of_mix = HeatSettings(cement="III", binder_kg_m3=420.0, water_binder=0.45)
    own = asked(bench, of_mix).work.hydration
    assert own == asked(bench, None, cement="III", **HEAT).work.hydration
    assert own != asked(bench, of_mix, cement="I", **HEAT).work.hydration
    assert own != asked(bench, of_mix, cement="III", fly_ash=0.3, **HEAT).work.hydration
