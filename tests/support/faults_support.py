"""A store that fails, or a process that dies, at the first statement, at the second, and so on."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event


class DiedError(BaseException):
    """The process dies here; no `except Exception` may catch it."""


@contextmanager
def at_every_statement(look: Callable[[], None]) -> Iterator[None]:
    """Call `look` before each statement that is sent to any database, and before each commit."""

    def before_statement(*_: Any) -> None:
        look()

    event.listen(Engine, "before_cursor_execute", before_statement)
    event.listen(Engine, "commit", before_statement)
    try:
        yield
    finally:
        event.remove(Engine, "before_cursor_execute", before_statement)
        event.remove(Engine, "commit", before_statement)


@contextmanager
def dying_at(n: int) -> Iterator[None]:
    """Raise `DiedError` in place of statement `n`, counted from 1; with fewer statements nothing happens."""
    seen = 0

    def look() -> None:
        nonlocal seen
        seen += 1
        if seen == n:
            raise DiedError

    with at_every_statement(look):
        yield


def killed_at_every_statement(folder: Path, act: Callable[[], Any], into: Path) -> list[Path]:
    """Run `act` once; return what a kill at each of its statements would have left of `folder`, and what it left."""
    images: list[Path] = []

    def look() -> None:
        image = into / str(len(images))
        shutil.copytree(folder, image)
        images.append(image)

    with at_every_statement(look):
        act()
    look()
    return images
