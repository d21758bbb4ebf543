"""What the pages are given of other packages."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from alerts.wording import words
from cure.dashboard.asked import Parts
from cure.dashboard.look import Looks, no_forecast
from cure.dashboard.printing import Printer
from cure.requirement_preview import Previewed, previewed
from deploy.pages_beside import beside
from deploy.status import CAUTION_LINE
from deploy.table_files import table_files
from deploy.wiring import Service
from shared.catalogue import Catalogue
from shared.models.acts import Act, Require
from shared.models.messages import Message, Text
from shared.store.drafts import DraftFolder
from shared.store.photos import PhotoFolder


def texts_by(catalogue: Catalogue) -> Callable[[Message, str], Text]:
    """Return what words a message in a language, as `slabhour messages show` does."""

    def texts(message: Message, language: str) -> Text:
        return words(message, repeat=False, language=language, catalogue=catalogue)

    return texts


def preview_by(service: Service) -> Callable[[Require], Sequence[Previewed]]:
    """Return what tells what a requirement would change, by the rounds that will judge it."""

    def preview(act: Require) -> Sequence[Previewed]:
        board = service.book.board
        return previewed(service.rounds, board.board(), board.acts_of("require"), act)

    return preview


def page_parts(service: Service, apply: Callable[[Act], None], *, demo: bool) -> Parts:
    """Return what the pages of a service are made of; `apply` does what people ask for."""
    board, readings, catalogue = service.book.board, service.readings, service.words
    forecasts = no_forecast if service.foresight is None else service.foresight.standing
    looks = Looks(board, readings, service.clock, forecasts)
    return Parts(
        *(board, service.book.people, service.clock, apply, catalogue, looks),
        texts=texts_by(catalogue),
        printer=Printer(board, readings, service.clock, catalogue, CAUTION_LINE),
        beside=beside(board, readings, service.clock, service.book.forecasts, service.book.weather),
        photos=PhotoFolder(service.folder),
        drafts=DraftFolder(service.folder),
        preview=preview_by(service),
        calibrations=service.setup.calibrations,
        demo=demo,
        files=table_files(board, readings),
    )
