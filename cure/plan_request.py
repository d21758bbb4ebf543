"""What is asked before a pour, however it is handed in: by command, page or interface.

A number outside its limits is refused when a request is made; what would not be reckoned with, by `faults`: nobody
takes the answer for that of another cement, or of another cover. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import AwareDatetime, Field, StringConstraints, ValidationError

from cure.hydration import CLASSES
from cure.plan_limits import MOST_COVERS, MOST_POURS, MOST_SETS, OPERATION, RANGES, USUAL
from shared.errors import PlanError
from shared.models.acts import ms
from shared.models.base import ID_PATTERN, Ms, OperationName, Record
from shared.models.heat import MOST_REPLACED


def _number(name: str, said: str) -> Any:
    least, most = RANGES[name]
    return Field(ge=least, le=most, description=said)


def _each(said: str) -> Any:
    return Field(max_length=MOST_COVERS, description=said)


Bay = Annotated[str, StringConstraints(pattern=ID_PATTERN)]
Cover = Annotated[float, _number("cover_r", "m2K/W")]
Warmth = Annotated[float, _number("below_c", "degC")]


class Case(Record):
    """One pour."""

    bay: Annotated[Bay, Field(description="bay of the site file")]
    start: Annotated[AwareDatetime, Field(description="first concrete")]
    pour_h: Annotated[float, _number("pour_h", "hours that the pour takes")] = USUAL["pour_h"]
    placing_c: Annotated[float, _number("placing_c", "temperature of the concrete as placed")] = USUAL["placing_c"]
    thickness_mm: Annotated[float | None, _number("thickness_mm", "another than the bay's")] = None
    mix: Annotated[str | None, Field(pattern=ID_PATTERN, description="another than the bay's")] = None
    cement: Annotated[
        str | None,
        Field(
            pattern=f"^({'|'.join(CLASSES)})$", description="type; with binder_kg and water_binder; default: the mix's"
        ),
    ] = None
    binder_kg: Annotated[float | None, _number("binder_kg", "cement and what replaces it, in a cubic metre")] = None
    water_binder: Annotated[float | None, _number("water_binder", "water by binder, by mass")] = None
    fly_ash: Annotated[float | None, _number("fly_ash", "share of binder_kg (0)")] = None
    slag: Annotated[float | None, _number("slag", "share of binder_kg (0)")] = None
    low_c: Annotated[
        float | None, _number("low_c", "coldest air of each day; default: the weather that the site holds")
    ] = None
    high_c: Annotated[float | None, _number("high_c", "warmest air of each day, with low_c")] = None
    wind_m_s: Annotated[float | None, _number("wind_m_s", "wind at the slab, beside low_c and high_c (3)")] = None
    cover_r: Annotated[float, _number("cover_r", "of a cover, m2K/W; 0: none")] = USUAL["cover_r"]
    cover_on_h: Annotated[float | None, _number("cover_on_h", "laid so long after the end of the pour (2)")] = None
    cover_for_h: Annotated[float | None, _number("cover_for_h", "default: until further notice")] = None
    below_c: Annotated[float | None, _number("below_c", "to which the space below is heated; default: it is not")] = (
        None
    )
    below_for_h: Annotated[float | None, _number("below_for_h", "default: until further notice")] = None
    operation: OperationName = OPERATION
    needs_h: Annotated[float | None, _number("needs_h", "counted hours, in place of what the operation needs")] = None
    needs_c: Annotated[float | None, _number("needs_c", "at or above which they count, with needs_h")] = None
    needs_mpa: Annotated[float | None, _number("needs_mpa", "lower bound of strength, with needs_h")] = None
    wanted: Annotated[AwareDatetime | None, Field(description="by when the operation is wanted")] = None
    chance: Annotated[float, _number("chance", "with which it is to be met")] = USUAL["chance"]

    @property
    def start_ms(self) -> Ms:
        """The first concrete."""
        return ms(self.start)


class Least(Record):
    """Find the least protection that meets the wanted hour with the wanted chance."""

    covers: Annotated[tuple[Cover, ...] | None, _each("m2K/W; default: those of common blankets")] = None
    heatings: Annotated[tuple[Warmth, ...] | None, _each("to what the space below can be heated; none: it cannot")] = (
        None
    )


class Window(Record):
    """Find the best start from the first one on."""

    until: Annotated[AwareDatetime, Field(description="the last start")]
    every_h: Annotated[float, _number("every_h", "hours between two starts")] = USUAL["every_h"]


class Link(Record):
    """A pour after the first one, as it is planned."""

    bay: Bay
    start: AwareDatetime


class FormSet(Record):
    """A form set that carries the pours of a sequence."""

    name: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9-]{1,32}$")]
    free: Annotated[
        AwareDatetime | None, Field(description="from when on; default: by where it is now on the site book")
    ] = None


class Sequence(Record):
    """When each pour of a sequence can start, by its form sets."""

    then: Annotated[tuple[Link, ...], Field(min_length=1, max_length=MOST_POURS, description="all else is the same")]
    sets: Annotated[
        tuple[FormSet, ...], Field(max_length=MOST_SETS, description="default: those of the site book")
    ] = ()
    turnaround_h: Annotated[float, _number("turnaround_h", "working hours to strip, move and set up one")] = USUAL[
        "turnaround_h"
    ]


class Request(Case):
    """One pour, or one search from it: at most one of the three."""

    least: Least | None = None
    window: Window | None = None
    sequence: Sequence | None = None


OF_LISTS: Final = {"covers": "cover_r", "heatings": "below_c"}
"""Whose limits hold for each of a list."""
TOGETHER: Final = (("cement", "binder_kg", "water_binder"), ("low_c", "high_c"), ("needs_h", "needs_c", "needs_mpa"))
"""Told together or not at all."""
BESIDE: Final[Mapping[str, tuple[str, ...]]] = {
    "fly_ash": ("binder_kg",),
    "slag": ("binder_kg",),
    "wind_m_s": ("low_c",),
    "cover_on_h": ("cover_r", "least"),
    "cover_for_h": ("cover_r",),
    "below_for_h": ("below_c",),
}
"""What counts only where one of others is told too."""
NOT_BESIDE: Final[Mapping[str, tuple[str, ...]]] = {
    **dict.fromkeys(("cover_r", "cover_for_h", "below_c", "below_for_h"), ("least",)),
    "wanted": ("sequence",),
    "window": ("least", "sequence"),
    "least": ("sequence",),
}
"""What does nothing where one of others is told: a search for protection tries its own, a sequence wants no hour."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A field that would not be reckoned with."""

    name: str
    others: tuple[str, ...]
    lacking: bool
    """Whether the others are lacking; else they are there and should not be."""

    def said(self, spell: Callable[[str], str]) -> str:
        """Return it in words, with the names as they are spelt where it was asked."""
        others = " and ".join(dict.fromkeys(map(spell, self.others)))
        if self.lacking:
            return f"{spell(self.name)}: {others} too, or {'neither' if len(self.others) == 1 else 'none of them'}"
        return f"{spell(self.name)}: beside {others} it would change nothing: leave one of them out"


def _told(request: Request) -> set[str]:
    """Return the fields that say something."""
    told = {name for name in request.model_fields_set if getattr(request, name) is not None}
    return told if request.cover_r > 0.0 else told - {"cover_r"}


def faults(request: Request) -> tuple[Fault, ...]:
    """Return every field that would not be reckoned with; none: the whole request counts."""
    return tuple(_faults(_told(request)))


def _faults(told: set[str]) -> Iterator[Fault]:
    for group in TOGETHER:
        lacking = tuple(name for name in group if name not in told)
        if lacking:
            yield from (Fault(name, lacking, True) for name in group if name in told)
    for name, others in BESIDE.items():
        if name in told and not told & {*others}:
            yield Fault(name, others[:1], True)
    for name, others in NOT_BESIDE.items():
        if name in told:
            yield from (Fault(name, (other,), False) for other in others if other in told)


def check(request: Request, spell: Callable[[str], str] = str) -> None:
    """Raise `PlanError` for what no pour has, or would not be reckoned with."""
    found = [fault.said(spell) for fault in faults(request)]
    if found:
        raise PlanError("; ".join(found))
    if (request.fly_ash or 0.0) + (request.slag or 0.0) > MOST_REPLACED:
        raise PlanError("fly ash and slag together are at most 0.9 of the binder")


def read(said: Mapping[str, Any], spell: Callable[[str], str] = str) -> Request:
    """Return what is asked by its fields.

    Raises:
        PlanError: one is missing, is not known, or lies outside its limits; every fault is told.
    """
    try:
        return Request.model_validate(said)
    except ValidationError as error:
        found = "; ".join(_wrong(one["loc"], one["msg"], spell) for one in error.errors())
    raise PlanError(found)


def _wrong(place: tuple[int | str, ...], said: str, spell: Callable[[str], str]) -> str:
    name = next((str(part) for part in reversed(place) if isinstance(part, str)), "")
    limits = RANGES.get(OF_LISTS.get(name, name))
    return f"{spell(name)}: " + (said if limits is None else f"a number from {limits[0]:g} to {limits[1]:g}")
