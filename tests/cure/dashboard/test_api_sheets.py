"""Other software fetches what is filed: exact words, handover sets, records of whole pours, labels, who may come in."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from api_support import V1, Office, office


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("own")) as found:
        assert found.do("signatures", found.to_sign("strip")).status_code == 200
        yield found


def status(own: Office, path: str) -> int:
    return own.ask("GET", f"{V1}/{path}", own.token("read")).status_code


def test_a_message_is_read_in_its_exact_words_and_says_whether_it_stands(own: Office) -> None:
    [record] = own.read("records")["items"]
    told = own.read(f"messages/{record['no']}/texts")
    assert (told["standing"], [text["language"] for text in told["texts"]]) == ("stands", ["en"])
    assert told["texts"][0]["short"].startswith("RELEASED")
    assert "2-b1" in told["texts"][0]["subject"]
    assert status(own, "messages/999/texts") == 404
    of_bay, every = own.read("messages", bay="2-b1")["items"], own.read("messages")["items"]
    assert (of_bay, own.read("messages", bay="2-b2")["items"]) == (every, [])
    assert [one["no"] for one in own.read("messages", waiting=True)["items"]] == []


def test_records_of_a_floor_and_of_a_whole_pour_come_as_pdf(own: Office) -> None:
    for path in ("handover.pdf?floor=2", "handover.pdf?bay=2-b1", "pours/2-b1-p1/pdf"):
        answer = own.ask("GET", f"{V1}/{path}", own.token("read"))
        assert (answer.content[:5], answer.headers["content-type"]) == (b"%PDF-", "application/pdf"), path
    tried = {"handover.pdf": 422, "handover.pdf?floor=9": 404, "pours/9-b9-p9/pdf": 404}
    assert {path: status(own, path) for path in tried} == tried


def test_labels_lead_to_where_the_pages_are(own: Office) -> None:
    told = own.read("labels", paper="Letter", bay="2-b1")
    assert (told["address"], told["paper"], len(told["sheets"])) == ("http://site.example", "Letter", 1)
    assert told["sheets"][0].startswith("<svg ")
    assert (status(own, "labels?bay=9-b9"), status(own, "labels?paper=A5")) == (404, 422)


def test_who_may_come_in_is_read_by_the_admin_and_nobody_is_let_in(own: Office) -> None:
    admin = own.token("read", person="admin")
    people = own.ask("GET", f"{V1}/people", admin).json()["items"]
    known = {one["id"]: (one["role"], one["second_factor"]) for one in people}
    assert (known["super"], known["crew"]) == (("superintendent", True), ("crew", False))
    assert own.ask("GET", f"{V1}/devices", admin).json() == {"items": [], "next": None}
    assert own.ask("POST", f"{V1}/people", admin).status_code == 405
