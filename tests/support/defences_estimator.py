"""The defences of the estimate, and how to switch each off; of what a sensor says: `defences_sensors`."""

from __future__ import annotations

from typing import Final

import pytest
from switching import Switches, rewritten

from cure import bound, entered, requirements
from cure.bay import BayEvidence
from cure.rounds import Rounds
from shared import units
from shared.store import readings_sqlite
from shared.store.book_cure import SqlCureBook


def required_sensors_are_alive(patch: pytest.MonkeyPatch) -> None:
    """L1: while a required sensor is silent nothing is released."""
    patch.setattr(BayEvidence, "fresh", lambda _: True)


def the_colder_of_two_is_credited(patch: pytest.MonkeyPatch) -> None:
    """L10: of two values for one hour the store keeps the colder."""
    rewritten(patch, readings_sqlite._coldest, ("kept = min(", "kept = max("))


def what_is_no_number_is_not_met(patch: pytest.MonkeyPatch) -> None:
    """E3: a comparison asks whether it is met, not whether it is not."""
    for rule, limit in (("_age", "rule.age_h"), ("_counted", "rule.counted_h"), ("_strength", "limit")):
        rewritten(patch, getattr(requirements, rule), (f"met=found >= {limit}", f"met=not found < {limit}"))


def an_estimate_that_raises_is_caught(patch: pytest.MonkeyPatch) -> None:
    """E4: a pour that cannot be judged stays as it is, alone."""
    rewritten(patch, Rounds.run_due, ("except Exception:", "except InterruptedError:"))


def a_pour_keeps_its_calibration(patch: pytest.MonkeyPatch) -> None:
    """E5: a newer version does not judge a pour that has begun to be judged."""
    there = "calibration = case.pour.calibration_version"
    rewritten(patch, entered.changed_pour, (there, "calibration = None"))


def nothing_below_the_tested_range(patch: pytest.MonkeyPatch) -> None:
    """E7: below the lowest tested age there is no strength."""
    tested = "return np.where(sums[:, NOMINAL] >= calibration.tested_from_h, bound, 0.0)"
    rewritten(patch, bound.lower_bound_mpa, (tested, "return bound"))


def nothing_more_above_the_tested_range(patch: pytest.MonkeyPatch) -> None:
    """E7: above the highest tested age there is no more than at it."""
    capped = "np.minimum(equivalent_age_h, calibration.tested_to_h)"
    rewritten(patch, bound._within_tested_h, (capped, "equivalent_age_h"))


def an_hour_counts_in_every_zone(patch: pytest.MonkeyPatch) -> None:
    """E8: the best zone counts for none but itself."""
    spans = BayEvidence.__dict__["coldest_spans"].func
    here = "coldest = np.minimum(coldest, low)"
    best = "coldest = np.where(np.isinf(coldest), low, np.fmax(coldest, low))"
    rewritten(patch, spans, (here, best))


def the_last_hour_is_that_of_the_coldest(patch: pytest.MonkeyPatch) -> None:
    """E8: the mean of several sensors is warm nowhere."""
    rewritten(patch, BayEvidence.coldest_through_c, ("np.min(coldest)", "np.mean(coldest[1:])"))


def credit_beyond_time_is_none(patch: pytest.MonkeyPatch) -> None:
    """E12: a sum that holds more hours than have passed is worth nothing."""
    within = "return known if within and len(known)"
    rewritten(patch, BayEvidence.__dict__["credited"].func, (within, "return known if len(known)"))


def units_are_converted(patch: pytest.MonkeyPatch) -> None:
    """E9: psi are not MPa."""
    patch.setattr(units, "PSI_PER_MPA", 1.0)


def a_result_on_old_input_is_void(patch: pytest.MonkeyPatch) -> None:
    """E10: what came while a round ran is not passed over."""
    patch.setattr(SqlCureBook, "_moved", lambda *_: False)


def a_release_is_judged_anew(patch: pytest.MonkeyPatch) -> None:
    """E13, E6: a release is held against what today's evidence, and today's code, find."""
    patch.setattr("cure.released.contradiction", lambda *_: None)


SWITCHES: Final[Switches] = {
    "L1": required_sensors_are_alive,
    "L10": the_colder_of_two_is_credited,
    "E3": what_is_no_number_is_not_met,
    "E4": an_estimate_that_raises_is_caught,
    "E5": a_pour_keeps_its_calibration,
    "E6": a_release_is_judged_anew,
    "E7": (nothing_below_the_tested_range, nothing_more_above_the_tested_range),
    "E8": (an_hour_counts_in_every_zone, the_last_hour_is_that_of_the_coldest),
    "E9": units_are_converted,
    "E10": a_result_on_old_input_is_void,
    "E12": credit_beyond_time_is_none,
    "E13": a_release_is_judged_anew,
}
