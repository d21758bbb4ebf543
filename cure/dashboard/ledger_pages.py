"""The ledger: to what the hours of each operation were lost, by floor and bay, and as CSV; by the command's figures."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final
from urllib.parse import urlencode

from starlette.responses import Response

from cure.dashboard.answers import answer
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.downloads import KINDS
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import page, problem
from cure.ledger import Row, Total, bay_totals, ledger, totals
from cure.lost import Lost
from shared.models.base import HOUR_MS, Ms

PARTS: Final = ("cold", "mix", "data", "signature", "crew")
"""To what hours are lost, in the order of `Lost.parts`."""
Line = tuple[bool, str, list[str]]
"""Of a table: whether it is a sum, its name, its cells."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/ledger"): lambda asked: _page(parts, asked),
        ("GET", "/ledger.csv"): lambda asked: _csv(parts, asked),
        ("GET", "/ledger.xlsx"): lambda asked: _file(parts, asked, "xlsx"),
        ("GET", "/ledger.parquet"): lambda asked: _file(parts, asked, "parquet"),
    }


def _floor(asked: Asked, floors: Iterable[str | None]) -> str:
    """Return the floor that is asked for; "": all of them."""
    wanted = asked.query.get("floor", "")
    return wanted if wanted in floors else ""


def _page(parts: Parts, asked: Asked) -> Response:
    rows, reader = ledger(parts.board), asked.reader
    floors = tuple(dict.fromkeys(row.floor or "" for row in rows))
    floor = _floor(asked, floors)
    shown = [row for row in rows if floor in {"", row.floor}]
    of = "?" + urlencode({"floor": floor}) if floor else ""
    return page(
        asked,
        "ledger.html",
        floors=floors,
        floor=floor,
        files=[(f"/ledger.{kind}{of}", reader.say(f"ledger-{kind}")) for kind in ("csv", *parts.files.kinds)],
        parts=[reader.say(f"lost-{part}") for part in PARTS],
        sums=_sums(shown, reader),
        # The newest pour first: nobody scrolls past years.
        bays=[(name, _operations(of, reader, asked.now)) for name, of in _by_bay(shown)],
        hour=reader.whole_hour(asked.now),
    )


def _bays(asked: Asked) -> list[str]:
    """Return the bays of the floor that is asked for; none: all."""
    floor = _floor(asked, {bay.floor for bay in asked.site.bay})
    return [bay.id for bay in asked.site.bay if bay.floor == floor]


def _named(ending: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="ledger.{ending}"'}


def _csv(parts: Parts, asked: Asked) -> Response:
    table = parts.beside.table("ledger", _bays(asked))
    return answer(table, kind="text/csv; charset=utf-8", headers=_named("csv"))


def _file(parts: Parts, asked: Asked, kind: str) -> Response:
    """Hand out the same table as a file of a kind whose extra is installed."""
    if kind not in parts.files.kinds:
        return problem(asked, "no-extra", status=404, extra=kind)
    body = b"".join(parts.files.write(f"ledger.{kind}", _bays(asked)))
    return Response(body, media_type=KINDS[kind], headers=_named(kind))


def _by_bay(rows: Sequence[Row]) -> list[tuple[str, list[Row]]]:
    names = dict.fromkeys(row.bay for row in reversed(rows))
    return [(name, [row for row in reversed(rows) if row.bay == name]) for name in names]


def hours(value_ms: int | None, reader: Reader) -> str:
    """Return so many hours in words."""
    return reader.number(None if value_ms is None else value_ms / HOUR_MS, "h")


def _sums(rows: Sequence[Row], reader: Reader) -> list[Line]:
    """Return a line for each floor, and one for each of its bays."""
    bays = bay_totals(rows)
    found: list[Line] = []
    for total in totals(rows):
        name = reader.say("lost-elsewhere") if total.floor is None else reader.say("floor", floor=total.floor)
        found.append((True, name, _sum(total, reader)))
        found += [
            (False, f"{reader.say('bay')} {one.bay}", _sum(one, reader)) for one in bays if one.floor == total.floor
        ]
    return found


def _sum(total: Total, reader: Reader) -> list[str]:
    known = reader.say("lost-of", count=total.operations, unknown=total.unknown)
    return [known, *(hours(part, reader) for part in total.lost.parts), hours(total.waited_ms, reader)]


def _operations(rows: Sequence[Row], reader: Reader, now: Ms) -> list[Line]:
    """Return a line for each operation of a bay."""

    def hour(at_ms: Ms | None) -> str:
        return "-" if at_ms is None else reader.hour(at_ms, now)

    return [
        (
            False,
            f"{reader.operation(row.operation)}, {row.pour}",
            [
                *(hour(at) for at in (row.due_ms, row.met_ms, row.signed_ms, row.begun_ms, row.done_ms)),
                hours(row.waited_ms, reader),
                _lost(row.lost, reader),
            ],
        )
        for row in rows
    ]


def _lost(lost: Lost, reader: Reader) -> str:
    """Return what was lost to what; what is nothing is left out, what is not known is said."""
    named = [
        f"{reader.say(f'lost-{name}')} {hours(part, reader)}"
        for name, part in zip(PARTS, lost.parts, strict=True)
        if part
    ]
    if lost.whole_ms is None:
        return "; ".join([*named, reader.say("lost-not-known")])
    return "; ".join(named) if named else reader.say("lost-nothing")
