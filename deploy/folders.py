"""Where a site's data lie, and set-ups whose data lie apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from shared.models.setup import Setup
from shared.models.stores import StoresSettings


def data_folder(setup: Setup) -> Path:
    """Return the site's data folder."""
    return Path(setup.folder, setup.site.site.data).resolve()


def with_data(setup: Setup, folder: Path) -> Setup:
    """Return the set-up with another data folder: replay and demo keep theirs apart from the site's."""
    site = setup.site.site.model_copy(update={"data": str(folder.resolve())})
    return replace(setup, site=setup.site.model_copy(update={"site": site}))


def in_files(setup: Setup) -> Setup:
    """Return the set-up with both stores in files of the data folder: a replay must not write into the site's own."""
    site = setup.site.model_copy(update={"stores": StoresSettings()})
    return replace(setup, site=site)
