"""How charts look: sizes, dashes, end marks and the stylesheet. What differs by ink differs by form too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Size:
    """A picture's measures. [units of its own, about a pixel each]"""

    name: str
    width: int
    height: int
    """Of one panel, without what stands below it."""
    left: int
    right: int
    """Room for the names at the ends of the lines."""
    marks: int
    """How many marks of an axis there is room for."""
    narrow: bool = False


WIDE: Final = Size("wide", 960, 300, 52, 160, 8)
NARROW: Final = Size("narrow", 400, 270, 44, 104, 4, narrow=True)
"""For phones: one picture scaled to their width would have letters of 5 px."""
PAPER: Final = Size("paper", 760, 196, 48, 150, 8)
"""For a record: two of them stand on its sheet."""
SIZES: Final = (WIDE, NARROW)
"""Of a page."""

TOP: Final = 24
LETTER: Final = 6.6
"""Width to reckon with for a letter of 12 px."""
LINE: Final = 14
"""Height of a line of text."""
STRIP: Final = 8
"""Height of a strip on the foot, such as the ribbon of counted hours; a line of text apart."""

DASHES: Final = ("", "70 40", "20 30", "90 30 20 30", "140 30", "40 20 10 20")
"""Of the lines, in the order in which they are drawn. [tenths]"""
MARKS: Final = (
    "M-4-4h8v8h-8z",
    "M0-5 5 4h-10z",
    "M0-5 5 0 0 5-5 0z",
    "M-5-2h10v4h-10z",
    "M-4 0a4 4 0 1 0 8 0a4 4 0 1 0-8 0z",
    "M-4-4 4 4M-4 4 4-4",
)
"""At the end of each line, in the same order."""
DIAMOND: Final = MARKS[2]
DOT: Final = "M-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0z"

INKS: Final = ("#0b3a5b", "#a63d00", "#00695c", "#6b2f8a", "#50565c", "#7a1f00")
"""6.4 : 1 on white and more, and nearly of one lightness: grey paper tells them by dash and mark."""
FONTS: Final = "system-ui,'DejaVu Sans',Arial,sans-serif"
LOOK: Final = (
    ".chart{display:block;width:100%;height:auto}"
    f".chart text{{font:12px {FONTS};fill:#101418}}"
    ".chart path{fill:none;stroke:#101418}"
    ".chart .g path{stroke:#c9d0d6}.chart .g text,.chart .s text{fill:#48525c}"
    ".chart .a{stroke-width:17;stroke-linejoin:round;stroke-linecap:round}"
    ".chart .e{stroke-width:1.6;fill:#fff}"
    + "".join(f".chart .s{n}{{stroke:{ink}}}" for n, ink in enumerate(INKS))
    + ".chart .air{stroke:#50565c;stroke-dasharray:10 28}.chart .f{stroke-dasharray:50 35}"
    ".chart .b{fill:#0b3a5b;fill-opacity:.16;stroke:none}"
    ".chart .l{stroke-width:1.3;stroke-dasharray:9 3}.chart .z{stroke-width:1.3;stroke:#48525c}"
    ".chart .n{stroke-width:1.3}"
    ".chart .t{font-weight:600;paint-order:stroke;stroke:#fff;stroke-width:3px;stroke-linejoin:round}"
    ".chart .p{stroke-width:1.6;fill:#fff}.chart .bad{stroke:#a63d00;fill:#a63d00}"
    ".chart .r{stroke-width:1.6}"
    ".chart .w{fill:#0b3a5b;stroke:none}.chart .cold{fill:#0b3a5b;fill-opacity:.1;stroke:none}"
    ".chart .tested{fill:#00695c;fill-opacity:.1;stroke:none}.chart .h{stroke:none}"
    ".chart .cross{stroke-width:1;stroke:#0a58ca}"
)
"""Of one chart that stands alone, in a record, an e-mail or a file."""
STYLESHEET: Final = (
    LOOK + ".chart{touch-action:pan-y}@media(min-width:641px){.chart.narrow{display:none}}"
    "@media(max-width:640px){.chart.wide{display:none}}"
    "@media print{.chart.wide{display:block}.chart.narrow{display:none}}"
    "@media(forced-colors:active){.chart path,.chart .a,.chart .e,.chart .z,.chart .bad{stroke:CanvasText}"
    ".chart .g path{stroke:GrayText;stroke-opacity:.5}.chart .t{stroke:Canvas}.chart .cross{stroke:Highlight}"
    ".chart .b,.chart .cold,.chart .tested,.chart .w{stroke:none;fill:CanvasText}"
    ".chart text,.chart .g text,.chart .s text,.chart .bad{fill:CanvasText}.chart .e,.chart .p{fill:Canvas}"
    ".chart .p.bad{fill:CanvasText}}"
)
"""Of a page whose charts come in both sizes. Classes only: no chart needs a style attribute."""
