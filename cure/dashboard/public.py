"""Where the pages are for others: links and codes that somebody else opens begin with it. Pure."""

from __future__ import annotations

from typing import Final
from urllib.parse import urlsplit

from shared.models.setup import SiteFile

THIS_MACHINE: Final = ("127.", "localhost", "[::1]")


def public_address(site: SiteFile, used: str) -> str:
    """Return the address of the pages: as the site file has it, else the one by which they were asked for.

    Args:
        site: the set-up in force.
        used: scheme, host and port of the request.
    """
    return site.web.address or used


def is_here_only(address: str) -> bool:
    """Return whether only the machine itself reaches an address: a phone that follows it finds itself."""
    return (urlsplit(address).netloc or address).startswith(THIS_MACHINE)
