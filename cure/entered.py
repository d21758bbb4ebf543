"""What people enter about a pour - its end, its mix - and the second person who checks it once."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cure.by_hand import measured
from cure.permits import void_signatures
from cure.roles import check_second, is_second
from cure.work import Work
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import MINUTE_MS, MixId, Ms
from shared.models.decisions import Finding, HoldKind, Pour
from shared.models.requirement import DESK
from shared.ports import PourCase

END_AGREES_MS: Final = 15 * MINUTE_MS
"""How far two people's hours of the last concrete may lie apart (our judgement)."""
CHECK: Final = "second-person check"
"""The rule that a second person's check meets."""


def changed_case(case: PourCase, act: acts.PourAct, now_ms: Ms) -> PourCase:
    """Return the case as the act leaves it, before the evidence is looked at."""
    case = replace(case, pour=changed_pour(case, act, now_ms))
    if isinstance(act, acts.HandReading):
        return replace(case, by_hand=(*case.by_hand, measured(act, case, now_ms)))
    return case


def changed_pour(case: PourCase, act: acts.PourAct | None, now_ms: Ms) -> Pour:
    """Return the pour as the act leaves it, before the evidence is looked at.

    An end may be moved later by one person; earlier needs a second one, because an earlier clock start releases more.
    Another mix takes a second person too; the pour is judged by that mix from the next round on, which comes at once.
    """
    if isinstance(act, acts.ChangeMix):
        return _other_mix(case, act)
    if not isinstance(act, acts.PourEnd):
        return case.pour
    end_ms = acts.ms(act.happened or act.at)
    if not case.pour.start_ms < end_ms <= now_ms:
        raise ActRefusedError("the end of a pour lies after its start and not in the future")
    earlier = case.pour.end_ms is not None and end_ms < case.pour.end_ms
    if earlier and not is_second(case.site, act, act.second_person, DESK):
        raise ActRefusedError("moving the end of a pour earlier needs a second person (superintendent, qc, engineer)")
    calibration = case.pour.calibration_version
    if calibration is None and case.calibration is not None:
        calibration = case.calibration.version
    return replace(case.pour, end_ms=end_ms, calibration_version=calibration)


def _other_mix(case: PourCase, act: acts.ChangeMix) -> Pour:
    if act.mix not in {mix.id for mix in case.site.mix}:
        known = ", ".join(mix.id for mix in case.site.mix)
        raise ActRefusedError(f"there is no mix {act.mix!r} in the site file; there are: {known}")
    if act.mix == case.pour.mix:
        raise ActRefusedError(f"{case.pour.id} has the mix {act.mix} already")
    check_second(case.site, act, act.second_person, DESK)
    # The version of the other mix that is in force is the one that it is judged by.
    return replace(case.pour, mix=MixId(act.mix), calibration_version=None)


def note_entered(work: Work, act: acts.PourAct | None) -> None:
    """Keep who entered the end, for the second person; another mix settles a doubt about the mix."""
    if isinstance(act, acts.PourEnd):
        work.memory["ended_by"] = act.who
        # Pours placed against this one share its last end.
        work.wake.update(beside.bay for beside in work.case.beside)
    if isinstance(act, acts.PourEnd | acts.ChangeMix):
        for operation in work.in_force:
            void_signatures(work, operation, "the pour was changed")
    if isinstance(act, acts.ChangeMix) and HoldKind.MIX in work.holds:
        work.lift_hold(HoldKind.MIX, act.who, act.why)


def second_check(work: Work, act: acts.SecondCheck) -> None:
    """Take a second person's check; another mix on the ticket than was entered is a hold.

    Raises:
        ActRefusedError: it is the same person, or what was checked is not as it was entered.
    """
    pour = work.case.pour
    if pour.end_ms is None:
        raise ActRefusedError(f"the end of {pour.id} is not entered yet")
    if act.who == work.memory.get("ended_by"):
        raise ActRefusedError(f"{act.who} entered the end of {pour.id}: a second person must check it")
    if not (act.loggers_alive and act.plan_seen):
        raise ActRefusedError("the check is complete only with the loggers seen alive and the plan seen")
    if not abs(acts.ms(act.end) - pour.end_ms) <= END_AGREES_MS:
        raise ActRefusedError("the hours of the last concrete differ by more than 15 min: enter the right one first")
    if act.mix != pour.mix:
        reason = f"the ticket {act.ticket} says {act.mix}, {pour.mix} was entered"
        work.open_hold(HoldKind.MIX, "qc", reason, "enter the mix that was delivered: slabhour mix")
        return
    work.memory["check"] = {"who": act.who, "end_ms": pour.end_ms, "mix": pour.mix}


def checked_by(work: Work) -> str | None:
    """Return who checked the pour as it stands now; a later change of its end or mix voids a check."""
    check, pour = work.memory.get("check"), work.case.pour
    if check is None or check["end_ms"] != pour.end_ms or check["mix"] != pour.mix:
        return None
    return str(check["who"])


def check_finding(work: Work) -> Finding:
    """Return the finding of the second-person check."""
    who = checked_by(work)
    return Finding(CHECK, "not done" if who is None else who, None, "", who is not None, lasting=False)
