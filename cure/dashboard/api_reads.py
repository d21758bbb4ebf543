"""What other software may read of what stands: the board, bays, gates, evidence, calibrations; and the long lists."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import islice
from typing import Annotated, Any, Final

from fastapi import Path, Query
from pydantic import AwareDatetime

from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, Caller, CallerIn, ProblemError
from cure.dashboard.api_paging import After, Limit, cursor_of, number_of
from cure.dashboard.board import board_notes, in_order, is_stopped
from cure.dashboard.record_facts import RECORDED
from cure.dashboard.rules import API
from cure.dashboard.standing import Standing
from cure.dashboard.standings import standings
from cure.lists import CONFIRMED_BY_PERSONS, NEEDS_A_PERSON
from shared.models.acts import ms
from shared.models.base import BayId, Ms, SensorId, SensorIdText
from shared.models.messages import Message
from shared.ports import BoardRow, Which

ONE_DAY: Final = timedelta(days=1)
_STAND: Final = frozenset({Standing.STANDS, Standing.SHUT})
BayInPath = Annotated[m.BayName, Path(description="bay of the site file")]
NumberInPath = Annotated[m.Number, Path(description="number of the message")]
From = Annotated[AwareDatetime | None, Query(alias="from", description="after this hour; default: a day before `to`")]
To = Annotated[AwareDatetime | None, Query(description="through this hour; default: now")]


def in_ms(at: datetime) -> Ms:
    """Return an hour in milliseconds, at least 0. Raises `ProblemError` for one that no calendar of ours has."""
    try:
        return max(0, ms(at))
    except (OverflowError, ValueError) as error:
        raise ProblemError(422, "that hour is out of range") from error


class BoardReads:
    """What stands on the board."""

    def __init__(self, api: ApiParts) -> None:
        self._api, self._board = api, api.parts.board

    def handlers(self) -> dict[tuple[str, str], Callable[..., Any]]:
        """Return what answers which route."""
        return {
            ("GET", f"{API}/me"): self.me,
            ("GET", f"{API}/site"): self.site,
            ("GET", f"{API}/board"): self.whole,
            ("GET", f"{API}/bays"): self.bays,
            ("GET", f"{API}/bays/{{bay}}"): self.bay,
            ("GET", f"{API}/gates"): self.gates,
            ("GET", f"{API}/evidence/{{digest}}"): self.evidence,
            ("GET", f"{API}/calibrations"): self.calibrations,
        }

    def _pour(self, caller: Caller, row: BoardRow, *, doubted: bool) -> m.PourAnswer:
        return views.pour_answer(row, caller.site, caller.now, caller.reader, doubted=doubted)

    def me(self, caller: CallerIn) -> m.Me:
        """Whose token this is, and what it opens."""
        token = caller.token
        until = views.maybe_hour(token.until_ms, caller.site)
        scopes = sorted(token.scopes)
        return m.Me(name=token.name, person=token.person, role=caller.role, scopes=scopes, until=until)

    def site(self, caller: CallerIn) -> m.SiteAnswer:
        """The site, and what is doubtful about the service itself."""
        of = caller.site.site
        return m.SiteAnswer(
            id=of.id,
            name=of.name,
            zone=of.zone,
            units=of.units,
            now=views.hour(caller.now, caller.site),
            in_doubt=[d.reason for d in self._board.doubts()],
            notes=list(board_notes(caller.site, caller.reader)),
            caution=self._api.caution,
        )

    def whole(self, caller: CallerIn) -> m.BoardAnswer:
        """Every open pour with its gates, holds and estimate, as the board shows it."""
        # Doubts first: whatever suspends every gate may be new, an older row must not stand without it.
        doubts = self._board.doubts()
        pours = [self._pour(caller, row, doubted=bool(doubts)) for row in self._board.board()]
        now = views.hour(caller.now, caller.site)
        return m.BoardAnswer(now=now, in_doubt=[d.reason for d in doubts], pours=pours, caution=self._api.caution)

    def _one_bay(self, caller: Caller, name: BayId, rows: dict[BayId, BoardRow], *, doubted: bool) -> m.BayAnswer:
        row = rows.get(name)
        shown = None if row is None else self._pour(caller, row, doubted=doubted)
        return views.bay_answer(caller.site.bay_named(name), shown, self._api.caution)

    def bays(self, caller: CallerIn) -> m.Page[m.BayAnswer]:
        """Every bay of the site file, with its open pour."""
        doubted, rows = bool(self._board.doubts()), {row.pour.bay: row for row in self._board.board()}
        found = [self._one_bay(caller, bay.bay_id, rows, doubted=doubted) for bay in caller.site.bay]
        return m.Page[m.BayAnswer](items=found, next=None)

    def bay(self, caller: CallerIn, bay: BayInPath) -> m.BayAnswer:
        """One bay, with its open pour."""
        if bay not in views.bays(caller.site):
            raise ProblemError(404, f"there is no bay {bay} in the site file")
        doubted, rows = bool(self._board.doubts()), {row.pour.bay: row for row in self._board.board()}
        return self._one_bay(caller, BayId(bay), rows, doubted=doubted)

    def gates(self, caller: CallerIn) -> m.Page[m.GateAnswer]:
        """Every gate of every open pour."""
        doubted = bool(self._board.doubts())
        found = []
        for row in self._board.board():
            stopped = is_stopped(row, caller.site, caller.now, doubted=doubted)
            found += [
                views.gate_answer(row, op, caller.site, caller.now, caller.reader, stopped=stopped)
                for op in in_order(row)
            ]
        return m.Page[m.GateAnswer](items=found, next=None)

    def evidence(self, _caller: CallerIn, digest: m.Digest) -> dict[str, Any]:
        """What a gate's state rests on, as it was kept at the decision."""
        kept: dict[str, Any] | None = self._board.evidence(digest)
        if kept is None:
            raise ProblemError(404, "no such evidence was kept")
        return kept

    def calibrations(
        self,
        _caller: CallerIn,
    ) -> m.Page[m.CalibrationAnswer]:
        """Each version of a calibration that is in force or judges an open pour."""
        return m.Page[m.CalibrationAnswer](
            items=[views.calibration_answer(row) for row in self._board.mixes()], next=None
        )


class ListReads:
    """What comes a page at a time."""

    def __init__(self, api: ApiParts) -> None:
        self._api, self._board = api, api.parts.board

    def handlers(self) -> dict[tuple[str, str], Callable[..., Any]]:
        """Return what answers which route."""
        return {
            ("GET", f"{API}/readings"): self.readings,
            ("GET", f"{API}/decisions"): self.decisions,
            ("GET", f"{API}/messages"): self.messages,
            ("GET", f"{API}/messages/{{no}}"): self.message,
            ("GET", f"{API}/records"): self.records,
            ("GET", f"{API}/records/{{no}}"): self.record,
        }

    def readings(
        self,
        caller: CallerIn,
        sensor: Annotated[SensorIdText, Query(description="logger.channel, such as lg-01.1")],
        since: From = None,
        to: To = None,
        cursor: After = None,
        limit: Limit = 500,
    ) -> m.Page[m.ReadingAnswer]:
        """What one sensor has read, by the hour at which it was taken."""
        through = caller.now if to is None else in_ms(to)
        begin = through - int(ONE_DAY.total_seconds() * 1000) if since is None else in_ms(since)
        after = number_of(cursor)
        after = max(0, begin) if after is None else max(after, begin)
        found = list(islice(self._api.readings.rows(SensorId(sensor), after, through), limit + 1))
        items = [
            m.ReadingAnswer(
                taken=views.hour(r.taken_ms, caller.site),
                temperature_c=r.milli_c / 1000.0,
                received=views.hour(r.received_ms, caller.site),
            )
            for r in found[:limit]
        ]
        more = cursor_of(found[limit - 1].taken_ms) if len(found) > limit else None
        return m.Page[m.ReadingAnswer](items=items, next=more)

    def decisions(self, caller: CallerIn, cursor: After = None, limit: Limit = 500) -> m.Page[m.DecisionAnswer]:
        """Every step of a gate, and every hold, in the order of the site's log."""
        lines = self._board.log_after(number_of(cursor) or 0, limit + 1)
        items = [
            views.decision_answer(line, entry, caller.site)
            for line, entry in lines[:limit]
            if entry.what in {"gate", "hold"}
        ]
        more = cursor_of(lines[limit - 1][0]) if len(lines) > limit else None
        return m.Page[m.DecisionAnswer](items=items, next=more)

    def _paged(self, which: Which, cursor: str | None, limit: int) -> tuple[Sequence[Message], str | None]:
        found = self._board.next_messages(which, number_of(cursor) or 0, limit + 1)
        return found[:limit], cursor_of(found[limit - 1].no) if len(found) > limit else None

    def _numbered(self, no: int) -> Message:
        message = self._board.message(no)
        if message is None:
            raise ProblemError(404, f"there is no message no. {no}")
        return message

    def messages(
        self,
        caller: CallerIn,
        cursor: After = None,
        limit: Limit = 100,
        bay: Annotated[m.BayName | None, Query(description="only of this bay")] = None,
        waiting: Annotated[bool, Query(description="only the newest that wait for a person, no cursor")] = False,
    ) -> m.Page[m.MessageAnswer]:
        """Every message with its deliveries, by number."""
        which = Which(bay=bay or "")
        if waiting:
            found = self._board.waiting_messages(which, CONFIRMED_BY_PERSONS, NEEDS_A_PERSON, limit)
            page, more = found, None
        else:
            page, more = self._paged(which, cursor, limit)
        told = self._board.deliveries_of({message.no for message in page})
        return m.Page[m.MessageAnswer](items=[views.message_answer(one, told, caller.site) for one in page], next=more)

    def message(self, caller: CallerIn, no: NumberInPath) -> m.MessageAnswer:
        """One message with its deliveries."""
        return views.message_answer(self._numbered(no), self._board.deliveries_of([no]), caller.site)

    def _recorded(self, caller: Caller, found: Sequence[Message]) -> list[m.RecordAnswer]:
        # Of a closed pour nothing may be done any more, so nothing of it stands for software that would act on it.
        site, caution, rows = caller.site, self._api.caution, self._board.board()
        stands, open_pours = standings(self._board, rows, site, caller.now, found), {row.pour.id for row in rows}
        return [
            views.record_answer(one, site, caution, stands=one.pour in open_pours and stands(one) in _STAND)
            for one in found
        ]

    def records(self, caller: CallerIn, cursor: After = None, limit: Limit = 100) -> m.Page[m.RecordAnswer]:
        """Every release, hold and withdrawal that has a record, and whether it still stands."""
        page, more = self._paged(Which(RECORDED), cursor, limit)
        return m.Page[m.RecordAnswer](items=self._recorded(caller, page), next=more)

    def record(self, caller: CallerIn, no: NumberInPath) -> m.RecordAnswer:
        """One record, and whether it still stands."""
        one = self._numbered(no)
        if one.kind not in RECORDED:
            raise ProblemError(404, f"no. {no} is a message of the kind {one.kind}: it has no record")
        return self._recorded(caller, [one])[0]
