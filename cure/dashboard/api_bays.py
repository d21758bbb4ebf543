"""What other software reads beside the gates of a bay: tickets with their pictures, form sets, sheets of labels."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import Query, Request, Response
from pydantic import BaseModel

from cure import tickets
from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.api_reads import BayInPath
from cure.dashboard.photos import handed_out, kind_of
from cure.dashboard.public import public_address
from cure.dashboard.rules import API
from cure.form_sets import KIND, OFF, places
from cure.gate import held
from shared.models.base import STRIP
from shared.models.decisions import HoldKind

Paper = Annotated[Literal["A4", "Letter"], Query(description="of the printer")]
Bay = Annotated[m.BayName | None, Query(description="only this bay; default: all")]


class DoubtAnswer(BaseModel):
    """What is odd on a ticket."""

    said: str
    answered: bool
    """Whether a person has answered for it."""


class TicketAnswer(BaseModel):
    """One truck, as its delivery ticket says."""

    number: str
    mix: str
    batched: datetime
    placed: datetime
    place: str | None
    dose_class: str | None
    water_l: float | None
    withheld_l: float | None
    air_percent: float | None
    air_wanted_percent: float | None
    temperature_c: float | None
    photo: str | None
    """`photos/{digest}`."""
    who: str
    at: datetime
    doubts: list[DoubtAnswer]


class TicketsAnswer(BaseModel):
    """The tickets of a bay's open pour, the newest first."""

    bay: str
    pour: str
    held: str | None
    """For what its tickets hold the pour: `acts/ticket-answer` answers for that, word by word; null: for nothing."""
    items: list[TicketAnswer]


class FormSetAnswer(BaseModel):
    """Where a form set is."""

    form_set: str
    bay: str | None
    """Null: it lies aside."""
    since: datetime
    who: str
    waits: str | None
    """The bay whose pour waits for it."""
    pour: str | None
    """The open pour in its bay."""
    forms_off: bool
    """Whether the forms are off what was poured there, as a person said."""


class LabelsAnswer(BaseModel):
    """Sheets of labels to print."""

    paper: str
    address: str
    """To which their codes lead."""
    sheets: list[str]
    """SVG, one a sheet of the paper's size."""


def bays(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route."""
    parts = api.parts

    def of_bay(caller: CallerIn, bay: BayInPath) -> TicketsAnswer:
        """Each truck of a bay's open pour, with what on its ticket is a doubt about the concrete."""
        row = next((row for row in parts.board.board() if row.pour.bay == bay), None)
        if row is None:
            raise ProblemError(404, f"no pour is open in a bay {bay}")
        case = parts.board.case(row.pour.id)
        settled = case.state.memory.get("tickets_settled", [])

        def ticket(kept: tickets.Kept) -> TicketAnswer:
            doubts = [DoubtAnswer(said=d, answered=d in settled) for d in tickets.doubts_about(kept, case)]
            hours = {name: views.hour(kept[f"{name}_ms"], caller.site) for name in ("batched", "placed", "at")}
            rest = {name: kept.get(name) for name in TicketAnswer.model_fields if name not in {*hours, "doubts"}}
            return TicketAnswer(**rest, **hours, doubts=doubts)

        reason = next((h.reason for h in row.holds if h.kind is HoldKind.TICKET), None)
        found = [ticket(kept) for kept in reversed(tickets.of(row.state.memory))]
        return TicketsAnswer(bay=bay, pour=row.pour.id, held=reason, items=found)

    def photo(_caller: CallerIn, digest: m.Digest) -> Response:
        """The picture of a ticket."""
        body = parts.photos.read(digest)
        kind = None if body is None else kind_of(body)
        if body is None or kind is None:
            raise ProblemError(404, "there is no such picture")
        return handed_out(body, kind, digest)

    def sets(caller: CallerIn) -> m.Page[FormSetAnswer]:
        """Where each form set is, since when, and which bay's pour waits for it; `acts/form-set` moves one."""
        rows = {row.pour.bay: row for row in parts.board.board() if STRIP in row.gates}
        found = []
        for place in places(parts.board.acts_of(KIND)).values():
            row = next((row for bay, row in rows.items() if bay == place.bay), None)
            found.append(
                FormSetAnswer(
                    form_set=place.form_set,
                    bay=place.bay,
                    since=views.hour(place.since_ms, caller.site),
                    who=place.who,
                    waits=place.waits,
                    pour=None if row is None else row.pour.id,
                    forms_off=row is not None and held(row.gates[STRIP]) in OFF,
                )
            )
        return m.Page[FormSetAnswer](items=found, next=None)

    def labels(caller: CallerIn, request: Request, paper: Paper = "A4", bay: Bay = None) -> LabelsAnswer:
        """Labels with the code of each bay and each sensor, which lead to their pages."""
        if bay is not None and bay not in views.bays(caller.site):
            raise ProblemError(404, f"there is no bay {bay} in the site file")
        address = public_address(caller.site, str(request.base_url).rstrip("/"))
        sheets = parts.beside.sheets(address, paper, [] if bay is None else [bay])
        return LabelsAnswer(paper=paper, address=address, sheets=list(sheets))

    return {
        ("GET", f"{API}/bays/{{bay}}/tickets"): of_bay,
        ("GET", f"{API}/photos/{{digest}}"): photo,
        ("GET", f"{API}/form-sets"): sets,
        ("GET", f"{API}/labels"): labels,
    }
