"""The calibrations that a service would judge by: those of the site file, and what people put in force since."""

from __future__ import annotations

from dataclasses import replace

from deploy.folders import data_folder
from shared.errors import StoreError
from shared.models.setup import Setup
from shared.store import has_book, read_board


def with_put_in_force(setup: Setup) -> tuple[Setup, list[str]]:
    """Return the set-up with the version of each mix that counts, the higher of the file's and of the one put in force,
    and what is to be said of those that are not the file's. A book that cannot be read leaves the file's: another look
    tells what is wrong with it.
    """
    folder = data_folder(setup)
    try:
        if not has_book(setup, folder):
            return setup, []
        with read_board(setup, folder) as book:
            rows = [row for row in book.mixes() if row.in_force]
    except StoreError:
        return setup, []
    found, said = dict(setup.calibrations), []
    for row in rows:
        mix, version = row.mix.id, row.calibration.version
        own = found.get(mix)
        if own is None or own.version < version:
            found[mix] = row.calibration
            file = "names none" if own is None else f"names version {own.version}"
            said.append(f"{mix}: version {version} was put in force; the site file {file}, and the higher one counts")
    return replace(setup, calibrations=found), said
