"""The words that ship, and a site's own in their place: one Fluent file a language."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final

from fluent.runtime import FluentResource
from fluent.syntax import ast
from fluent.syntax.visitor import Visitor

from shared.catalogue import LANGUAGES, Catalogue, catalogue
from shared.errors import Fault, SetupError
from shared.models.messages import MessageKind

FOLDER: Final = "words"
"""Beside the site file: `en.ftl`, `fr.ftl`, `es.ftl`, each with the messages that it replaces."""
LONGEST_VERDICT: Final = 12
OPT_OUT: Final = frozenset(
    {
        *("stop", "stopall", "end", "quit", "cancel", "unsubscribe", "optout", "revoke"),
        *("arret", "arrêt", "arrêter", "fin", "annuler", "désabonner", "désinscrire"),
        *("alto", "parar", "pare", "baja", "cancelar", "salir", "terminar"),
    }
)
"""First words that carriers, or people, take for the end of a subscription."""
_KINDS: Final = frozenset(kind.name.lower().replace("_", "-") for kind in MessageKind)
_VERDICTS: Final = frozenset({*_KINDS, "withdrawal.strip", "withdrawal.done"})
_PERMITS: Final = "released"


@cache
def shipped() -> Catalogue:
    """Return the words as they ship."""
    return catalogue(_base())


@cache
def _base() -> dict[str, ast.Resource]:
    return {language: _parsed(Path(__file__).parent / FOLDER / f"{language}.ftl") for language in LANGUAGES}


def load(folder: Path) -> Catalogue:
    """Return the shipped words with those in a site's folder in their place; without such a folder the shipped ones.

    Raises:
        SetupError: a file cannot be read, or a message is not one of ours, or says something else than it stands for.
    """
    if not folder.is_dir():
        return shipped()
    base = _base()
    own: dict[str, ast.Resource] = {}
    faults: list[Fault] = []
    for file in sorted(folder.iterdir()):
        if file.suffix != ".ftl":
            continue
        if file.stem not in base:
            allowed = ", ".join(f"{language}.ftl" for language in LANGUAGES)
            faults.append(Fault(str(file), None, "language", file.stem, allowed))
            continue
        try:
            own[file.stem] = _parsed(file)
        except (OSError, UnicodeDecodeError) as error:
            faults.append(Fault(str(file), None, "file", type(error).__name__, "a text file in UTF-8"))
            continue
        faults += _faults(file, own[file.stem], base)
    if faults:
        raise SetupError(faults)
    return catalogue(base, own)


def _parsed(file: Path) -> ast.Resource:
    return FluentResource(file.read_text(encoding="utf-8"))


def _faults(file: Path, own: ast.Resource, base: dict[str, ast.Resource]) -> Iterator[Fault]:
    source = file.read_text(encoding="utf-8")
    ours = {m.id.name: m for m in _messages(base[file.stem])}
    for entry in own.body:
        if isinstance(entry, ast.Comment | ast.GroupComment | ast.ResourceComment):
            continue
        # A message's own span begins with its comment.
        span = entry.id.span if isinstance(entry, ast.Message | ast.Term) else entry.span
        line = source.count("\n", 0, 0 if span is None else span.start) + 1
        if not isinstance(entry, ast.Message):
            yield Fault(str(file), line, "message", "text that is not Fluent", "id = words")
        elif entry.id.name not in ours:
            yield Fault(str(file), line, entry.id.name, "an id that no text asks for", "an id of the shipped words")
        else:
            for found, allowed in _departures(entry, ours[entry.id.name], base):
                yield Fault(str(file), line, entry.id.name, found, allowed)


def _departures(own: ast.Message, ours: ast.Message, base: dict[str, ast.Resource]) -> Iterator[tuple[str, str]]:
    mine, theirs = _patterns(own), _patterns(ours)
    if set(mine) != set(theirs):
        yield ", ".join(sorted(mine)), f"the same parts as shipped: {', '.join(sorted(theirs))}"
        return
    for key, pattern in mine.items():
        says, needs = _asked(pattern), _asked(theirs[key])
        if says != needs:
            yield f"{key} with {sorted(says)}", f"the same names as shipped: {sorted(needs)}"
        elif key in _VERDICTS:
            yield from _unfit(key, _plain(pattern), len(_plain(theirs[key])), base)


def _unfit(key: str, verdict: str, shipped_length: int, base: dict[str, ast.Resource]) -> Iterator[tuple[str, str]]:
    most = max(LONGEST_VERDICT, shipped_length)
    if not 0 < len(verdict) <= most:
        yield f"{key}, {len(verdict)} characters", f"a verdict of at most {most} characters, without names"
    if verdict.casefold().rstrip(" :!.,").split(" ")[0] in OPT_OUT:
        yield verdict, "a verdict that does not begin with a carrier's opt-out word"
    permits = {_plain(_patterns(m)[_PERMITS]) for r in base.values() for m in _messages(r) if m.id.name == _PERMITS}
    if key != _PERMITS and any(verdict.casefold().startswith(p.casefold()) for p in permits):
        yield verdict, "a verdict that does not begin like a release"


def _messages(resource: ast.Resource) -> list[ast.Message]:
    return [entry for entry in resource.body if isinstance(entry, ast.Message)]


def _patterns(message: ast.Message) -> dict[str, ast.Pattern]:
    name = message.id.name
    value = {} if message.value is None else {name: message.value}
    return value | {f"{name}.{a.id.name}": a.value for a in message.attributes}


def _plain(pattern: ast.Pattern) -> str:
    """Return a pattern's words; "" when it has any name in it."""
    texts = [e.value for e in pattern.elements if isinstance(e, ast.TextElement)]
    return "".join(texts) if len(texts) == len(pattern.elements) else ""


class _Names(Visitor):
    """Collects what a pattern asks for: names of values, messages and terms."""

    def __init__(self) -> None:
        self.found: set[str] = set()

    def visit_VariableReference(self, node: ast.VariableReference) -> None:  # noqa: N802 - called by that name
        self.found.add(f"${node.id.name}")

    def visit_MessageReference(self, node: ast.MessageReference) -> None:  # noqa: N802 - called by that name
        self.found.add(node.id.name)

    def visit_TermReference(self, node: ast.TermReference) -> None:  # noqa: N802 - called by that name
        self.found.add(f"-{node.id.name}")


def _asked(pattern: ast.Pattern) -> frozenset[str]:
    names = _Names()
    names.visit(pattern)
    return frozenset(names.found)
