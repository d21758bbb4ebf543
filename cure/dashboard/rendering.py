"""Pages of templates: what is shown is escaped, what is missing is an error, static files go by their hash."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from fluent.runtime import FluentResource
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard.answers import answer, empty
from cure.dashboard.asked import Asked
from cure.dashboard.rules import may
from cure.dashboard.signs import SHAPES
from shared.catalogue import LANGUAGES, Catalogue, catalogue

HERE: Final = Path(__file__).parent
POLL_S: Final = 15
ALIVE_S: Final = 10
KINDS: Final = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}
A_YEAR: Final = "public, max-age=31536000, immutable"
NAVIGATION: Final = (
    ("/", "board"),
    ("/days", "days"),
    ("/mixes", "mixes"),
    ("/loggers", "loggers"),
    ("/messages", "messages"),
)
"""Entries of the bar; whoever may not ask for one does not see it."""
MORE: Final = (
    ("/sign", "sign"),
    ("/plan", "plan"),
    ("/records", "records"),
    ("/ready", "ready"),
    ("/sets", "sets"),
    ("/requirements", "requirements"),
    ("/breaks", "breaks"),
    ("/shift", "shift"),
    ("/diary", "diary"),
    ("/ledger", "ledger"),
    ("/forecasts", "forecasts"),
    ("/people", "people"),
    ("/devices", "devices"),
    ("/settings", "settings"),
    ("/help", "help"),
)
"""Entries at the foot."""


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A file as it is sent."""

    kind: str
    body: bytes
    compressed: bytes


@cache
def static_files() -> Mapping[str, StaticFile]:
    """Return what is sent as it lies there, by its hashed name."""
    found = {}
    for path in sorted((HERE / "static").iterdir()):
        if path.suffix in KINDS:
            body = path.read_bytes()
            name = f"{path.stem}-{hashlib.sha256(body).hexdigest()[:12]}{path.suffix}"
            found[name] = StaticFile(KINDS[path.suffix], body, gzip.compress(body, 9, mtime=0))
    return found


def asset(name: str) -> str:
    """Return the path of a static file."""
    stem, _, suffix = name.rpartition(".")
    return next(f"/static/{n}" for n in static_files() if n.startswith(f"{stem}-") and n.endswith(f".{suffix}"))


def static_answer(name: str, accepted: str) -> Response:
    """Return a static file: its name says what is in it, so it may be kept for ever."""
    file = static_files().get(name)
    if file is None:
        return empty(404)
    headers = {"Cache-Control": A_YEAR, "Vary": "Accept-Encoding"}
    if "gzip" in accepted:
        return Response(file.compressed, headers={**headers, "Content-Encoding": "gzip"}, media_type=file.kind)
    return Response(file.body, headers=headers, media_type=file.kind)


@cache
def words() -> Catalogue:
    """Return the pages' own words."""
    files = {language: HERE / "words" / f"{language}.ftl" for language in LANGUAGES}
    return catalogue({language: FluentResource(path.read_text("utf-8")) for language, path in files.items()})


def shape(name: str) -> Markup:
    """Return the drawing of a sign: it repeats a word, so it has no name of its own."""
    drawing = SHAPES[name]
    return Markup(f'<svg viewBox="0 0 32 32" aria-hidden="true" focusable="false">{drawing}</svg>')  # noqa: S704 - ours


@cache
def environment() -> Environment:
    """Return the templates."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(asset=asset, shape=shape, poll_s=POLL_S, alive_s=ALIVE_S)
    return made


def _open_to(asked: Asked, entries: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    return [(path, key) for path, key in entries if may("GET", path, asked.visitor.comer)]


def render(asked: Asked, template: str, **shown: Any) -> str:
    """Return a page, or a part of one."""
    common = {
        "asked": asked,
        "visitor": asked.visitor,
        "site": asked.site.site,
        "say": asked.reader.say,
        "known": asked.reader.known,
        "language": asked.reader.language,
        "navigation": _open_to(asked, NAVIGATION),
        "more": _open_to(asked, MORE),
        "served": asked.reader.whole_hour(asked.now),
        "big": asked.query.get("big") == "1",
        "live": "",
    }
    return environment().get_template(template).render(common | shown)


def page(asked: Asked, template: str, *, status: int = 200, **shown: Any) -> Response:
    """Return a page as an answer."""
    return answer(render(asked, template, **shown), status=status)


def problem(asked: Asked, key: str, *, status: int, why: str = "", **said: str | int) -> Response:
    """Return a page that says what is wrong and what to do."""
    title, text = asked.reader.say(key), asked.reader.say(f"{key}.text", **said)
    return page(asked, "problem.html", status=status, title=title, text=text, why=why)
