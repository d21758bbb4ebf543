"""What was asked, by whom: everything a page needs, read once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final
from urllib.parse import parse_qsl

from starlette.requests import Request

from cure.dashboard.attempts import Attempts
from cure.dashboard.beside import Beside
from cure.dashboard.downloads import NO_FILES, TableFiles
from cure.dashboard.pour_view import PourView
from cure.dashboard.printing import Printer
from cure.dashboard.reader import Reader
from cure.dashboard.rules import Comer
from cure.dashboard.uploads import fields_of
from cure.requirement_preview import Previewed
from shared.catalogue import Catalogue
from shared.models.acts import Act, Require
from shared.models.base import Ms, PourId
from shared.models.calibration import Calibration
from shared.models.messages import Message, Text
from shared.models.people import Role
from shared.models.setup import SiteFile
from shared.ports import BoardBook, Clock, PeopleBook
from shared.ports.drafts import Drafts
from shared.ports.photos import Photos

MOST_BYTES: Final = 64 * 1024
"""A longer form is none of ours."""
MOST_BYTES_LONG: Final = 512 * 1024
"""Tables of cylinders and of their temperatures, every half an hour through 28 days."""
MOST_FIELDS: Final = 400


@dataclass(frozen=True, slots=True)
class Parts:
    """What the pages are made of: given by whoever wires."""

    board: BoardBook
    people: PeopleBook
    clock: Clock
    apply: Callable[[Act], None]
    """Carries out what a person did; raises `ActRefusedError`."""
    evidence: Catalogue
    """The words of findings, holds and reasons: those of the messages."""
    look: Callable[[PourId], PourView]
    """Reads a pour with its readings from the stores; raises `StoreError`."""
    texts: Callable[[Message, str], Text]
    """Words a message in a language, as whoever gets it reads it."""
    printer: Printer
    """Makes PDFs of records."""
    beside: Beside
    """Answers of parts that the pages may not load."""
    photos: Photos
    """Where pictures of tickets lie."""
    drafts: Drafts
    """Where programmes lie that somebody has begun to type."""
    preview: Callable[[Require], Sequence[Previewed]]
    """What a requirement would change for unfinished pours; raises `StoreError`."""
    attempts: Attempts = field(default_factory=Attempts)
    """To sign, on whichever way: who guesses through one is held back on all."""
    calibrations: Mapping[str, Calibration] = field(default_factory=dict)
    """By mix id; of a mix without one no hour is foreseen."""
    demo: bool = False
    """Whoever comes from this machine acts for the scripted people, without a password; the pages say so."""
    files: TableFiles = NO_FILES
    """Tables as files beside CSV."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks."""

    person: str | None = None
    role: Role | None = None
    device: str | None = None
    """The name of a screen that only reads."""
    csrf: str = ""
    """What each of their forms carries; "": they have none that does anything as somebody."""
    demo: bool = False

    @property
    def comer(self) -> str:
        """The role, or what one without a name is."""
        if self.role is not None:
            return self.role
        return Comer.NOBODY if self.device is None else Comer.DEVICE


@dataclass(frozen=True, slots=True)
class Asked:
    """One request."""

    method: str
    route: str
    """As in the rules."""
    here: str
    """Path and query as they came."""
    path: Mapping[str, str]
    """Parts of the path."""
    query: Mapping[str, str]
    form: Mapping[str, tuple[str, ...]]
    cookies: Mapping[str, str]
    address: str
    host: str
    secure: bool
    tag: str | None
    now: Ms
    site: SiteFile
    visitor: Visitor
    reader: Reader
    demo: bool = False

    def bytes_of(self, name: str) -> bytes:
        """Return the bytes of a picture in the form; none: there is none."""
        return next(iter(self.form.get(name, ())), "").encode("latin-1", "replace")

    def one(self, name: str) -> str:
        """Return one field of the form without blanks around it; "" when it is not there."""
        return next(iter(self.form.get(name, ())), "").strip()


class TooLongError(Exception):
    """A form is longer than any of ours."""


async def form_of(request: Request, most: int = MOST_BYTES) -> dict[str, tuple[str, ...]]:
    """Return the fields of a form of at most so many bytes. Raises `TooLongError`."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > most:
            raise TooLongError
    kind = request.headers.get("content-type", "")
    if kind.startswith("multipart/form-data"):
        fields = fields_of(kind, body, MOST_FIELDS)
        if fields is None:
            raise TooLongError
        return fields
    try:
        pairs = parse_qsl(body.decode(), keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except ValueError as error:
        raise TooLongError from error
    found: dict[str, tuple[str, ...]] = {}
    for name, value in pairs:
        found[name] = (*found.get(name, ()), value)
    return found
