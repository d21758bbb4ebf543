"""What the pages are given of other packages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from alerts.wording import words
from deploy.status import CAUTION
from shared.catalogue import Catalogue
from shared.models.messages import Message, Text

CAUTION_LINE: Final = CAUTION.replace("\n", " ")


def texts_by(catalogue: Catalogue) -> Callable[[Message, str], Text]:
    """Return what words a message in a language, as `slabhour messages show` does."""

    def texts(message: Message, language: str) -> Text:
        return words(message, repeat=False, language=language, catalogue=catalogue)

    return texts
