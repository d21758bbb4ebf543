"""What somebody reads in: their choice, else what the site says of them, else what their browser asks for. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from cure.dashboard.asked import Visitor
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from cure.dashboard.visitors import LANGUAGE, UNITS
from shared import units
from shared.catalogue import ENGLISH, LANGUAGES, Catalogue, voice_of
from shared.models.people import RecipientSettings
from shared.models.setup import SiteFile

SYSTEMS: Final[Mapping[str, units.System]] = {"SI": "SI", "US": "US"}


def language_of(person: RecipientSettings | None, cookies: Mapping[str, str], accepted: str) -> str:
    """Return the language of a page.

    Args:
        person: in the site file, who reads.
        cookies: with their choice.
        accepted: the browser's Accept-Language, whose order is taken as it stands.
    """
    chosen = cookies.get(LANGUAGE, "")
    if chosen in LANGUAGES:
        return chosen
    if person is not None:
        return person.language
    asked = (part.split(";")[0].strip()[:2].lower() for part in accepted.split(","))
    return next((language for language in asked if language in LANGUAGES), ENGLISH)


def reader_of(
    evidence: Catalogue, site: SiteFile, visitor: Visitor, cookies: Mapping[str, str], accepted: str
) -> Reader:
    """Return whoever reads a page."""
    person = None if visitor.person is None else site.person(visitor.person)
    language = language_of(person, cookies, accepted)
    system = SYSTEMS.get(cookies.get(UNITS, ""), site.site.units)
    return Reader(voice_of(words(), language), voice_of(evidence, language), system, site.site.zone)
