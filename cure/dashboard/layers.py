"""What a chart is made of, before it is drawn: panels of layers over one axis. Plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from cure.dashboard.scales import Across, Mark
from cure.maturity import Floats

Spans: TypeAlias = Sequence[tuple[float, float]]
"""From ... to ..., in the unit of the axis across."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line; where it has no number it breaks."""

    name: str
    x: Floats
    y: Floats
    ink: int = 0
    """Which ink, dash and end mark."""
    kind: Literal["", "air", "forecast"] = ""
    label: str | None = None
    """At its end, where it is not the name; "": none."""


@dataclass(frozen=True, slots=True)
class Band:
    """An area between two lines that have their points at the same places."""

    name: str
    x: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Level:
    """A line across the whole panel at one value, with its words."""

    label: str
    value: float
    kind: Literal["limit", "zero"] = "limit"
    short: str = ""
    """Words where there is little room; "": the same."""
    side: Literal["left", "right"] = "left"
    """Where its words stand: where no curve does."""


@dataclass(frozen=True, slots=True)
class Point:
    """A single result, with a bar from the lowest to the highest where it stands for several."""

    title: str
    x: float
    y: float
    low: float = float("nan")
    high: float = float("nan")
    bad: bool = False
    form: Literal["dot", "diamond"] = "dot"


@dataclass(frozen=True, slots=True)
class Upright:
    """A line from foot to top, such as now."""

    label: str
    x: float


@dataclass(frozen=True, slots=True)
class Shade:
    """Stretches of the axis shaded from foot to top."""

    name: str
    kind: Literal["cold", "tested"]
    spans: Spans


Layer: TypeAlias = Line | Band | Level | Point | Upright | Shade


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip on the foot of a panel: filled where something holds, or hatched where something is missing."""

    label: str
    spans: Spans
    hatched: bool = False
    titles: Sequence[str] = ()
    """One for each span that is hatched."""


@dataclass(frozen=True, slots=True)
class Second:
    """A second scale below the first: its marks lie where the axis across has the values of another quantity."""

    name: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """One scale upwards with its layers."""

    unit: str
    layers: tuple[Layer, ...]
    least: float = float("inf")
    """The scale begins here or lower."""
    most: float = float("-inf")
    """It ends here or higher."""
    marks: tuple[Mark, ...] | None = None
    """In place of round numbers; then the scale runs from `least` to `most`."""
    strips: tuple[Strip, ...] = ()
    share: float = 1.0
    """Of the usual height of a panel."""


@dataclass(frozen=True, slots=True)
class Chart:
    """Panels one above the other, over one axis."""

    key: str
    """Tells it from the other charts of a page."""
    title: str
    across: Across
    panels: tuple[Panel, ...]
    second: Second | None = None
