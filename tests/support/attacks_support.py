"""Texts that attackers type, and what a page must not become by them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

from repo_support import ROOT

SCRIPTS: Final = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "</title></textarea><svg/onload=alert(1)>",
    "javascript:alert(1)",
    "{{7*191}}${7*191}<%=7*191%>",
)
STATEMENTS: Final = ("'; DROP TABLE pour; --", '" OR "1"="1', "' UNION SELECT secret FROM account --", "%_\\")
FORMULAS: Final = ("=HYPERLINK(1)", "@SUM(1+1)", "-2+3", "+1")
PATHS: Final = (
    "..", "../../etc/passwd", "..%2f..%2fetc%2fpasswd", "..\\..\\site.toml", "site.db%00.pdf", "9" * 40, "-1", "\u0661",
    "%ff%fe", "x" * 3000,
)  # fmt: skip
CONTROLS: Final = ("a\x00b", "\x1b[2J\x07", "\u202eevil\u2028x", "\ud7ff\uffff\U0001f9f1", "x" * 5000)
TEXTS: Final = (*SCRIPTS, *STATEMENTS, *FORMULAS)


def fields() -> Sequence[str]:
    """Return the name of every field of every form."""
    found: set[str] = set()
    for template in Path(ROOT, "cure/dashboard/templates").glob("*.html"):
        found |= set(re.findall(r'\bname="([a-z][a-z_-]*)"', template.read_text(encoding="utf-8")))
    return sorted(found - {"csrf", "viewport"})


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.wrong: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag == "script" and not (said.get("src") or "").startswith("/static/"):
            self.wrong.append(f"a script that is not ours: {said}")
        if tag in {"iframe", "object", "embed", "base", "foreignobject"}:
            self.wrong.append(f"<{tag}>")
        for name, value in attrs:
            if name.startswith("on") or name == "srcdoc":
                self.wrong.append(f"{name} on <{tag}>")
            leads = name in {"href", "src", "action", "formaction", "xlink:href"}
            if leads and not re.match(r"(/(?!/)|#|\?|$|https?://(site\.test|localhost|127\.0\.0\.1)[:/])", value or ""):
                self.wrong.append(f"{name}={value}")
            self.text.append(value or "")

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def read(page: str) -> tuple[list[str], str]:
    """Return what is wrong with a page's elements, and all that it says, names of fields and places included."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return reader.wrong, "\n".join(reader.text)
