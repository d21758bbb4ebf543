"""One case of page and interface: what it leaves out is the mix's."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import make_case
from pages_support import NOW, Bench

from cure.dashboard.planning import FIRST, LIMITS, Answered, Wish, answered
from shared.models.base import HOUR_MS, STRIP, BayId
from shared.models.heat import HeatSettings

DAYS = {"low_c": 10.0, "high_c": 18.0}
HEAT = {"binder_kg": 420.0, "water_binder": 0.45}


def asked(bench: Bench, cement: str, heat: HeatSettings | None, **numbers: float) -> Answered:
    """Return the answer for a site whose mix has this heat."""
    site = bench.board.site()
    site = site.model_copy(update={"mix": tuple(m.model_copy(update={"heat": heat}) for m in site.mix)})
    calibration = make_case().calibration
    assert calibration is not None
    parts = replace(bench.parts(), calibrations={"c32-f": calibration})
    given = {name: float(said) for name, said in FIRST.items() if name in LIMITS and said}
    wish = Wish(BayId("2-b1"), NOW + 10 * HOUR_MS, STRIP, None, cement, {**dict.fromkeys(LIMITS), **given, **numbers})
    return answered(parts, site, wish, NOW)


def test_a_binder_that_is_left_out_is_the_mixs_with_its_cement_and_its_water(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(type(bench.board), "edits", lambda *_: (), raising=False)
    of_mix = HeatSettings(cement="III", binder_kg_m3=420.0, water_binder=0.45)
    own = asked(bench, "I", of_mix, **DAYS).tried.work.hydration
    assert own == asked(bench, "III", None, **DAYS, **HEAT).tried.work.hydration
    assert own != asked(bench, "I", of_mix, **DAYS, **HEAT).tried.work.hydration
