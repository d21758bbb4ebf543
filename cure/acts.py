"""What people do to a pour, carried out: each act is one round with that act in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cure.placed import placed, removed
from cure.press import HANDS, MAY
from cure.requirements import CONSENT, sentence
from cure.roles import check_role, check_second
from cure.rounds import Rounds
from cure.ticks import TICKS
from shared.act_checks import check_bay, check_hour
from shared.errors import ActRefusedError, StoreError
from shared.models import acts
from shared.models.base import BayId, Json, MixId, PourId, SensorId
from shared.models.calibration import is_ahead
from shared.models.decisions import LogEntry, Placement, Pour
from shared.models.people import Role
from shared.models.requirement import DESK, AllRule
from shared.models.setup import SiteFile
from shared.requirement_checks import why_nobody_could

PLACERS: Final = (Role.INSTALLER, *DESK)
"""Who may place loggers."""
TRIES: Final = 5
"""Two people may enter the same sensor at once."""


@dataclass(frozen=True, slots=True)
class PourActs:
    """Cure's half of `apply(act)`."""

    site: SiteFile
    rounds: Rounds

    def apply(self, act: acts.PourAct) -> None:
        """Carry out an act.

        Raises:
            ActRefusedError: it cannot be accepted now, and why.
        """
        check_hour(act, self.rounds.clock.now())
        if isinstance(act, acts.PourStart):
            self._start(act)
            return
        pour = self._known(act.pour)
        if isinstance(act, acts.TakeBack):
            check_role(self.site, act, MAY[acts.TakeBack])
            self.rounds.take_back(pour, act)
        elif isinstance(act, acts.Stop):
            self.rounds.stop(pour, act)
        else:
            self.rounds.run(pour, act)

    def apply_to_site(self, act: acts.FileDocument | acts.Require) -> None:
        """Carry out an act about the site: a document put on file, a requirement written by the engineer.

        Raises:
            ActRefusedError: it cannot be accepted, and why.
        """
        check_hour(act, self.rounds.clock.now())
        if act.bay is not None:
            check_bay(self.site, act.bay)
        body = acts.act_to(act)
        if isinstance(act, acts.Require):
            check_role(self.site, act, (Role.ENGINEER,))
            check_second(self.site, act, act.second_person, DESK)
            if (cause := why_nobody_could(self.site, act.requirement)) is not None:
                raise ActRefusedError(f"{act.requirement.operation} could never be released here: {cause}")
            # In words as well, so that a slip of the hand shows.
            body["sentence"] = sentence(AllRule(all=act.requirement.all))
        else:
            check_role(self.site, act, _filers(act))
            if act.pour is not None:
                self._known(act.pour)
        try:
            self.rounds.book.act_on_site(act, LogEntry(self.rounds.clock.now(), act.who, "act", body))
        except StoreError as error:
            raise ActRefusedError(str(error)) from error

    def apply_to_logger(self, act: acts.PlaceSensor | acts.RemoveSensor) -> None:
        """Place a sensor, move it, or take it out of its bay.

        Raises:
            ActRefusedError: it cannot be accepted, and why.
        """
        now, book = self.rounds.clock.now(), self.rounds.book
        check_hour(act, now)
        check_role(self.site, act, PLACERS)
        for _ in range(TRIES):
            known = book.placements_of(SensorId(act.sensor))
            if isinstance(act, acts.PlaceSensor):
                check_bay(self.site, act.bay)
                after = placed(act, self.site, known, book.open_pour_in(BayId(act.bay)), now)
            else:
                after = removed(act, self.site, known, now)
            body: Json = {**acts.act_to(act), "was": _places(known), "is": _places(after)}
            if book.place(act, known, after, LogEntry(now, act.who, "act", body)):
                return
        raise ActRefusedError(f"{act.sensor} is being placed by somebody else: look at the list, then try again")

    def put_in_force(self, act: acts.PutInForce) -> None:
        """Put a new version of a mix's calibration in force.

        Raises:
            ActRefusedError: it cannot be accepted, and why.
        """
        check_hour(act, self.rounds.clock.now())
        check_role(self.site, act, (Role.QC, Role.ENGINEER))
        check_second(self.site, act, act.second_person, DESK)
        calibration = act.calibration
        if calibration.mix not in {mix.id for mix in self.site.mix}:
            raise ActRefusedError(f"there is no mix {calibration.mix!r} in the site file")
        if calibration.digest != calibration.digested():
            raise ActRefusedError("the calibration is not as it was made: its digest does not fit")
        if is_ahead(calibration.made_on, self.rounds.clock.now()):
            made = f"its cylinders were made on {calibration.made_on}, which has not been yet"
            raise ActRefusedError(f"{made}: calibrate again with the day on which they were made")
        try:
            self.rounds.book.act_on_site(act, LogEntry(self.rounds.clock.now(), act.who, "act", acts.act_to(act)))
        except StoreError as error:
            raise ActRefusedError(str(error)) from error

    def screen_again(self, act: acts.ScreenAgain) -> None:
        """Put on the book that refused readings are screened again, if that person may say so.

        Raises:
            ActRefusedError: it cannot be accepted, and why.
        """
        check_hour(act, self.rounds.clock.now())
        check_role(self.site, act, (*DESK, Role.INSTALLER))
        try:
            self.rounds.book.act_on_site(act, LogEntry(self.rounds.clock.now(), act.who, "act", acts.act_to(act)))
        except StoreError as error:
            raise ActRefusedError(str(error)) from error

    def _known(self, name: str) -> PourId:
        pour = PourId(name)
        if self.rounds.book.pour_named(pour) is None:
            raise ActRefusedError(f"there is no pour called {name!r}; `slabhour status` lists them")
        return pour

    def _start(self, act: acts.PourStart) -> None:
        check_role(self.site, act, MAY[acts.PourStart])
        start_ms = acts.ms(act.happened or act.at)
        if start_ms > self.rounds.clock.now():
            raise ActRefusedError("a pour cannot begin in the future")
        check_bay(self.site, act.bay)
        bay = self.site.bay_named(BayId(act.bay))
        pour = Pour(PourId(act.pour), bay.bay_id, MixId(bay.mix), start_ms)
        log = LogEntry(self.rounds.clock.now(), act.who, "act", acts.act_to(act))
        try:
            self.rounds.book.open_pour(act, pour, log)
        except StoreError as error:
            raise ActRefusedError(str(error)) from error


def _filers(act: acts.FileDocument) -> tuple[Role, ...]:
    """Return who puts a document on file: whoever looked before the pour may tick it for a bay."""
    if act.name in TICKS.values() and act.bay is not None:
        return HANDS
    return (Role.ENGINEER,) if act.name == CONSENT else DESK


def _places(placements: Sequence[Placement]) -> list[str]:
    """Return where a sensor lies, in words, for the log."""
    return [
        f"{p.bay}, {p.zone}, {'required' if p.required else 'not required'}, from {acts.instant(p.from_ms).isoformat()}"
        for p in placements
        if p.to_ms is None
    ]
