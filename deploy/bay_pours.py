"""Which pour of a bay an act ends, and which goes on: told after the act, because a start ends the bay's open pour."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from deploy.folders import data_folder
from shared.models.setup import Setup
from shared.store import has_book, read_board

Given = Mapping[str, Any]


def open_pours(setup: Setup) -> dict[str, str]:
    """Return the open pour of each bay that has one."""
    if not has_book(setup, data_folder(setup)):
        return {}
    with read_board(setup, data_folder(setup)) as book:
        return {row.pour.bay: row.pour.id for row in book.board()}


def before(setup: Setup, kind: str, given: Given) -> dict[str, str]:
    """Return the bay that an act changes the pour of, with its open pour; empty: it does not."""
    if kind == "pour_start":
        return {bay: pour for bay, pour in open_pours(setup).items() if bay == given["bay"]}
    if kind == "take_back":
        return {bay: pour for bay, pour in open_pours(setup).items() if pour == given["pour"]}
    return {}


def turned(setup: Setup, kind: str, was: Mapping[str, str]) -> dict[str, str]:
    """Return which pour ended by an act, or goes on after it.

    Args:
        setup: of the site.
        kind: of the act, which was carried out.
        was: what `before` said.
    """
    still = was if kind == "pour_start" or not was else open_pours(setup)
    pour = next((still[bay] for bay in was if bay in still), None)
    return {} if pour is None else {"ended" if kind == "pour_start" else "goes_on": pour}


def lines(turned: Mapping[str, str]) -> Iterator[str]:
    """Yield the same in words."""
    if (ended := turned.get("ended")) is not None:
        yield f"pour {ended} of this bay ends here: what is read there from now on is the next pour's"
        yield "a start that was a mistake: slabhour pour take-back POUR WHY, before anything of it is signed"
    if (again := turned.get("goes_on")) is not None:
        yield f"pour {again} of this bay goes on and is judged anew; what was released of it is withdrawn"
