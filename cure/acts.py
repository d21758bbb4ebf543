"""What people do to a pour, carried out: each act is one round with that act in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cure.press import MAY
from cure.requirements import CONSENT, sentence
from cure.roles import check_role, check_second
from cure.rounds import Rounds
from shared.errors import ActRefusedError, StoreError
from shared.models import acts
from shared.models.base import BayId, MixId, PourId
from shared.models.decisions import LogEntry, Pour
from shared.models.people import Role
from shared.models.requirement import DESK, AllRule
from shared.models.setup import SiteFile
from shared.requirement_checks import why_nobody_could

LATEST_MS: Final = 120_000
"""How far an act may lie ahead of the clock."""


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
        if act.at_ms > self.rounds.clock.now() + LATEST_MS:
            raise ActRefusedError("an act cannot be handed in before its time")
        if isinstance(act, acts.PourStart):
            self._start(act)
            return
        pour = PourId(act.pour)
        if self.rounds.book.pour_named(pour) is None:
            raise ActRefusedError(f"there is no pour called {act.pour!r}; `slabhour status` lists them")
        if isinstance(act, acts.Stop):
            self.rounds.stop(pour, act)
        else:
            self.rounds.run(pour, act)

    def apply_to_site(self, act: acts.FileDocument | acts.Require) -> None:
        """Carry out an act about the site: a document put on file, a requirement written by the engineer.

        Raises:
            ActRefusedError: it cannot be accepted, and why.
        """
        if act.at_ms > self.rounds.clock.now() + LATEST_MS:
            raise ActRefusedError("an act cannot be handed in before its time")
        if act.bay is not None and act.bay not in {bay.id for bay in self.site.bay}:
            names = ", ".join(bay.id for bay in self.site.bay)
            raise ActRefusedError(f"there is no bay {act.bay!r} in the site file; there are: {names}")
        body = acts.act_to(act)
        if isinstance(act, acts.Require):
            check_role(self.site, act, (Role.ENGINEER,))
            check_second(self.site, act, act.second_person, DESK)
            if (cause := why_nobody_could(self.site, act.requirement)) is not None:
                raise ActRefusedError(f"{act.requirement.operation} could never be released here: {cause}")
            # In words as well, so that a slip of the hand shows.
            body["sentence"] = sentence(AllRule(all=act.requirement.all))
        else:
            check_role(self.site, act, (Role.ENGINEER,) if act.name == CONSENT else DESK)
            if act.pour is not None and self.rounds.book.pour_named(PourId(act.pour)) is None:
                raise ActRefusedError(f"there is no pour called {act.pour!r}; `slabhour status` lists them")
        try:
            self.rounds.book.act_on_site(act, LogEntry(self.rounds.clock.now(), act.who, "act", body))
        except StoreError as error:
            raise ActRefusedError(str(error)) from error

    def _start(self, act: acts.PourStart) -> None:
        check_role(self.site, act, MAY[acts.PourStart])
        start_ms = acts.ms(act.happened or act.at)
        if start_ms > self.rounds.clock.now():
            raise ActRefusedError("a pour cannot begin in the future")
        try:
            bay = self.site.bay_named(BayId(act.bay))
        except KeyError:
            names = ", ".join(b.id for b in self.site.bay)
            raise ActRefusedError(f"there is no bay {act.bay!r} in the site file; there are: {names}") from None
        pour = Pour(PourId(act.pour), bay.bay_id, MixId(bay.mix), start_ms)
        log = LogEntry(self.rounds.clock.now(), act.who, "act", acts.act_to(act))
        try:
            self.rounds.book.open_pour(act, pour, log)
        except StoreError as error:
            raise ActRefusedError(str(error)) from error
