"""The pages over a book in memory or on disk, asked without a socket or by a server of the test's own."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import pyotp
from beside_support import quiet_beside
from cure_support import END_MS, make_case, recorded
from drafts_support import MemoryDrafts
from pages_browser import Browser, served
from photos_support import MemoryPhotos
from starlette.types import ASGIApp
from store_support import AIR, BAY, EDGE, INSIDE, OTHER_BAY, T0, make_site
from told_board import MemoryTold

from alerts.site_words import shipped
from cure.dashboard import door
from cure.dashboard.app import not_found, pages
from cure.dashboard.asked import Parts
from cure.dashboard.beside import Beside
from cure.dashboard.downloads import NO_FILES, TableFiles
from cure.dashboard.pour_view import PourView, viewed
from cure.dashboard.printing import Printer
from cure.requirement_preview import Previewed
from deploy.page_parts import texts_by
from deploy.status import CAUTION_LINE
from deploy.web import application
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.accounts import Account
from shared.models.acts import Act
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, BayId, MixId, Ms, Operation, PourId, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import (
    Doubt,
    Finding,
    Gate,
    GateState,
    Hold,
    LogEntry,
    Placement,
    Pour,
    PourState,
    RequirementEdit,
    Verdict,
)
from shared.models.estimate import Estimate
from shared.models.messages import Delivery, Message
from shared.models.people import Role
from shared.models.readings import Arrival, Refusal
from shared.models.setup import SiteFile
from shared.ports import BoardRow, MixRow, PeopleBook, PourCase
from shared.sequence import Followed
from shared.store.book import SiteBook

NOW: Final = T0 + 30 * HOUR_MS
PASSWORD: Final = "correct horse battery"  # noqa: S105 - of a test
SECRET: Final = "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP"  # noqa: S105 - of a test
SITE: Final = make_site(
    recipient=[{"id": role.value, "role": role.value, "channels": [{"kind": "inbox"}]} for role in Role]
)


def row(
    bay: BayId = BAY,
    states: Mapping[Operation, GateState] | None = None,
    *,
    floor: str = "2",
    holds: tuple[Hold, ...] = (),
    reason: str = "",
    evidence_ms: Ms | None = NOW - 600_000,
    stripping: tuple[BayId, ...] = (),
    signers: tuple[str, ...] = (),
    verdicts: tuple[Verdict, ...] = (),
) -> BoardRow:
    """Return a row of the board; gates not named are curing."""
    pour = PourId(f"{bay}-p1")
    found = dict.fromkeys((STRIP, WALK, LOAD), GateState.CURING) | dict(states or {})
    gates = {
        op: Gate(pour, op, state, 1, NOW - HOUR_MS, reason, signers=signers, snapshot="snap-1")
        for op, state in found.items()
    }
    estimate = Estimate(evidence_ms, 29.0, 11.6, None, 25.0, None, 9.2, 6.4, {"5": 29.0})
    state = PourState(NOW - 600_000, 1, NOW + HOUR_MS, "0.1.0", estimate, verdicts or verdicts_of(found))
    return BoardRow(Pour(pour, bay, MixId("c32-f"), T0, T0 + HOUR_MS), floor, gates, holds, state, stripping)


def verdicts_of(states: Mapping[Operation, GateState]) -> tuple[Verdict, ...]:
    """Return verdicts that go with the states of gates."""
    short = {GateState.CURING, GateState.NOT_SET_UP, GateState.HOLD, GateState.WITHDRAWN}
    bounds = {
        met: Finding("lower bound of strength", 3.6 if met else 3.4, 3.5, "MPa", met=met) for met in (True, False)
    }
    met = {op: state not in short for op, state in states.items()}
    return tuple(Verdict(op, (), met=met[op], findings=(bounds[met[op]],)) for op in states)


@dataclass
class MemoryBoard(MemoryTold):
    """What the pages read, in memory; `down` makes it fail."""

    of_site: SiteFile = SITE
    rows: Sequence[BoardRow] = ()
    open_doubts: Sequence[Doubt] = ()
    down: bool = False
    done: Sequence[Act] = ()
    placed: Sequence[Placement] = ()
    arrived: Sequence[Arrival] = ()
    known_mixes: Sequence[MixRow] = ()
    entries: Sequence[LogEntry] = ()
    written: Sequence[RequirementEdit] = ()
    lost: Sequence[Followed] = ()

    def log_after(self, seq: int, limit: int | None = None) -> Sequence[tuple[int, LogEntry]]:
        return [*enumerate(self.entries, 1)][seq:][:limit]

    def acts_of(self, kind: str, since_ms: Ms = 0) -> Sequence[Act]:
        return [act for act in self.done if act.kind == kind and act.at_ms >= since_ms]

    def acts_between(self, from_ms: Ms, to_ms: Ms) -> Sequence[Act]:
        return [a for a in self.done if from_ms <= a.at_ms and (a.at_ms < to_ms or getattr(a, "happened", None))]

    def lying(self) -> Sequence[Placement]:
        return [p for p in self.placed if p.to_ms is None]

    def arrivals_of(self, sensors: Collection[SensorId]) -> Sequence[Arrival]:
        return [a for a in self.arrived if a.sensor in sensors]

    def calibrations(self) -> Sequence[Calibration]:
        return [row.calibration for row in self.known_mixes if row.in_force]

    def newest_deliveries(self) -> Sequence[Delivery]:
        return self.sent

    def messages(self) -> Sequence[Message]:
        return self.said

    def placements(self) -> Sequence[Placement]:
        return self.placed

    def arrivals(self) -> Sequence[Arrival]:
        return self.arrived

    def acts(self) -> Sequence[Act]:
        return self.done

    def deliveries(self) -> Sequence[Delivery]:
        return self.sent

    def case(self, pour: PourId) -> PourCase:
        return self.cases[pour]

    def site(self) -> SiteFile:
        if self.down:
            raise StoreError("site.db: disk I/O error")
        return self.of_site

    def board(self) -> Sequence[BoardRow]:
        return self.rows

    def doubts(self) -> Sequence[Doubt]:
        return self.open_doubts

    def missing(self) -> Sequence[Followed]:
        return self.lost

    def refusals(self) -> Sequence[Refusal]:
        return self.standing

    def edits(self, bay: BayId) -> Sequence[RequirementEdit]:
        assert bay in {b.id for b in self.of_site.bay}
        return self.written

    def mixes(self) -> Sequence[MixRow]:
        return self.known_mixes

    def newest_version(self, mix: str) -> int:
        return max((m.calibration.version for m in self.known_mixes if m.mix.id == mix), default=0)

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(f"the pages asked for {name}, which this board does not have")


@dataclass
class Bench:
    """The pages with everything that a test moves."""

    board: MemoryBoard
    people: PeopleBook
    clock: SimulatedClock = field(default_factory=lambda: SimulatedClock(NOW))
    acts: list[Act] = field(default_factory=list)
    demo: bool = False
    beside: Beside = field(default_factory=quiet_beside)
    photos: MemoryPhotos = field(default_factory=MemoryPhotos)
    drafts: MemoryDrafts = field(default_factory=MemoryDrafts)
    previewed: Sequence[Previewed] = ()
    files: TableFiles = NO_FILES

    def parts(self) -> Parts:
        """Return the parts as `deploy` would give them."""
        board: Any = self.board
        own = shipped()
        stored: Any = None
        texts, printer = texts_by(own), Printer(board, stored, self.clock, own, CAUTION_LINE)
        given = (board, self.people, self.clock, self.acts.append, own, self.look)
        return Parts(
            *given,
            texts=texts,
            printer=printer,
            beside=self.beside,
            photos=self.photos,
            drafts=self.drafts,
            preview=lambda _: self.previewed,
            demo=self.demo,
            files=self.files,
        )

    def look(self, pour: PourId) -> PourView:
        """Return a pour with what its sensors read, the same for every pour."""
        if self.board.down:
            raise StoreError("readings.db: disk I/O error")
        case = make_case()
        case = replace(case, pour=replace(case.pour, id=pour))
        readings = {EDGE: 14.0, INSIDE: 18.0, AIR: 8.0}
        of_pour = {sensor: recorded(celsius, 24.0) for sensor, celsius in readings.items()}
        return viewed(case, of_pour, NOW, elapsed_ms=NOW - END_MS)

    def app(self) -> ASGIApp:
        """Return the pages, mounted."""
        return application([pages(self.parts())], not_found(self.parts()))

    def browser(self, **options: Any) -> Browser:
        """Return a browser without a screen, that goes where it is sent only when told."""
        return Browser(self.app(), **options)

    def account(self, role: Role) -> Account:
        """Let the person of a role have an account, with a second factor."""
        in_site = any(r.id == role for r in self.board.of_site.recipient)
        account = Account(role.value, None if in_site else role, HASHED, SECRET, NOW)
        token = door.invite(self.people, account.id, account.role, "admin", NOW)
        assert door.join(self.people, token, account)
        return account

    def signed_in(self, role: Role, **options: Any) -> Browser:
        """Return a browser of the person of a role."""
        if self.people.account(role.value) is None:
            self.account(role)
        browser = self.browser(**options)
        browser.cookies.set("slabhour_session", door.begin_session(self.people, role.value, self.clock.now()))
        return browser

    def csrf(self, browser: Browser) -> str:
        """Return what the browser's forms carry."""
        token = browser.cookies.get("slabhour_session") or ""
        session = self.people.session(door.digest_of(token), self.clock.now())
        return "" if session is None else session.csrf

    def code(self, later_s: int = 0) -> str:
        """Return what an authenticator shows; each code counts once."""
        self.clock.set(self.clock.now() + later_s * 1000)
        return pyotp.TOTP(SECRET).at(self.clock.now() // 1000)


HASHED: Final = door.hashed(PASSWORD)


def bench_of(book: SiteBook, *rows: BoardRow, **options: Any) -> Bench:
    """Return the pages over accounts of a book on disk and a board in memory."""
    return Bench(MemoryBoard(rows=rows), book.people, **options)


OTHER: Final = OTHER_BAY
__all__ = ["OTHER", "Bench", "Browser", "MemoryBoard", "bench_of", "replace", "row", "served"]
