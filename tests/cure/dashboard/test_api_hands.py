"""What other software does that is bound to what it has read, and what it reads of that afterwards."""

from __future__ import annotations

import base64
import io
import struct
import zlib
from collections.abc import Iterator
from dataclasses import replace

import pytest
from api_support import V1, Office, office

from shared.models.acts import instant
from shared.models.base import MINUTE_MS
from shared.models.decisions import Hold, HoldKind

POUR = "2-b1-p1"


def png() -> bytes:
    """Return a picture of one dot."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    made = io.BytesIO(b"\x89PNG\r\n\x1a\n")
    head, dot = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0), zlib.compress(b"\x00\x00")
    return made.getvalue() + chunk(b"IHDR", head) + chunk(b"IDAT", dot) + chunk(b"IEND", b"")


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("own")) as found:
        yield found


def test_a_shift_is_taken_over_by_who_has_read_what_stands(own: Office) -> None:
    stale = own.do("acts/take-over", {"seen": "0" * 12})
    assert (stale.status_code, "read it again" in stale.json()["detail"]) == (409, True)
    code = own.read("shift")["sheet"]["code"]
    done = own.do("acts/take-over", {"seen": code, "note": "crane at 9"}, key="shift")
    assert (done.status_code, done.json()["done"]["seen"]) == (200, code)
    assert own.do("acts/take-over", {"seen": code, "note": "crane at 9"}, key="shift").json() == done.json()
    [taken] = own.read("shift")["taken_over"]
    assert (taken["who"], taken["note"]) == ("super", "crane at 9")


def test_what_a_person_has_looked_at_is_ticked_for_its_bay(own: Office) -> None:
    def there() -> dict[str, bool]:
        [bay] = own.read("ready", bay="2-b2")["bays"]
        return {item["key"]: item["there"] for item in bay["items"]}

    assert (there()["covers"], there()["ice-free"]) == (False, False)
    assert own.do("acts/ready", {"bay": "2-b2", "what": "covers"}).status_code == 200
    assert (there()["covers"], there()["ice-free"]) == (True, False)
    assert own.do("acts/ready", {"bay": "9-b9", "what": "covers"}).status_code == 409
    assert own.do("acts/ready", {"bay": "2-b2", "what": "plan"}).status_code == 422


def test_a_form_set_is_where_it_was_moved(own: Office) -> None:
    assert own.do("acts/form-set", {"form_set": "set-a", "bay": "2-b1", "waits": "2-b2"}).status_code == 200
    [one] = own.read("form-sets")["items"]
    assert (one["form_set"], one["bay"], one["waits"], one["pour"]) == ("set-a", "2-b1", "2-b2", POUR)
    assert (one["forms_off"], one["who"]) == (False, "super")


def test_a_ticket_comes_with_its_picture_and_its_doubt_is_answered_for_as_it_was_read(own: Office) -> None:
    batched = instant(own.clock.now() - 28 * 60 * MINUTE_MS)
    ticket = {"pour": POUR, "number": "T1", "mix": "c32-f", "batched": batched.isoformat(), "temperature_c": 3.0}
    picture = base64.b64encode(png()).decode()
    none = own.do("acts/ticket", {**ticket, "picture": base64.b64encode(b"GIF89a").decode()})
    assert (none.status_code, own.read("bays/2-b1/tickets")["items"]) == (422, [])
    placed = instant(own.clock.now() - 28 * 60 * MINUTE_MS + 20 * MINUTE_MS).isoformat()
    done = own.do("acts/ticket", {**ticket, "placed": placed, "picture": picture})
    assert done.status_code == 200, done.text
    told = own.read("bays/2-b1/tickets")
    [one] = told["items"]
    assert (one["number"], one["temperature_c"], one["who"]) == ("T1", 3.0, "super")
    shown = own.ask("GET", f"{V1}/photos/{one['photo']}", own.token("read"))
    assert (shown.content, shown.headers["content-type"]) == (png(), "image/png")
    assert own.ask("GET", f"{V1}/photos/{'0' * 64}", own.token("read")).status_code == 404
    assert [doubt["answered"] for doubt in one["doubts"]] == [False]
    [held] = own.read("holds")["items"]
    assert (held["bay"], held["pour"], held["kind"], held["reason"]) == ("2-b1", POUR, "ticket in doubt", told["held"])
    assert held["lifted_by"] == ["engineer", "qc", "superintendent"]
    answer = {"pour": POUR, "why": "tested on site"}
    assert own.do("acts/ticket-answer", {**answer, "reason": "something else"}).status_code == 409
    assert own.do("acts/ticket-answer", {**answer, "reason": told["held"]}).status_code == 200
    after = own.read("bays/2-b1/tickets")
    assert (after["held"], after["items"][0]["doubts"][0]["answered"]) == (None, True)
    assert own.read("holds") == {"items": [], "next": None}


def test_holds_come_a_page_at_a_time_and_say_who_lifts_each(own: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    board = own.parts.parts.board
    kinds = (HoldKind.PLACEMENT, HoldKind.FREEZE_LOCKED, HoldKind.FREEZE_SUSPECTED)
    held = tuple(Hold(kind, own.clock.now(), "engineer", f"because of {kind}", "look") for kind in kinds)
    rows = [replace(row, holds=held) for row in board.board()]
    monkeypatch.setattr(board, "board", lambda: rows)
    first = own.read("holds", limit=2)
    [last] = own.read("holds", limit=2, cursor=first["next"])["items"]
    found = {one["kind"]: one["lifted_by"] for one in (*first["items"], last)}
    assert found.keys() == set(kinds)
    assert found[HoldKind.FREEZE_LOCKED] == ["engineer"]
    assert found[HoldKind.FREEZE_SUSPECTED] == ["engineer", "qc", "superintendent"]
    wrong = own.ask("GET", f"{V1}/holds", own.token("read"), params={"cursor": "x"})
    assert wrong.status_code == 422


def test_more_than_a_route_takes_is_not_read(own: Office) -> None:
    long = own.ask("POST", f"{V1}/acts/want", None, content=b"{" + b" " * 70_000)
    assert (long.status_code, long.headers["content-type"]) == (413, "application/problem+json")
    table = own.ask("POST", f"{V1}/mixes/c32-f/calibrate", None, content=b"{" + b" " * 70_000 + b"}")
    assert table.status_code in {401, 422}
