"""Forms with files."""

from __future__ import annotations

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.dashboard.uploads import fields_of


def body(files: dict[str, tuple[str, bytes]], **typed: str) -> tuple[str, bytes]:
    request = httpx.Request("POST", "http://site.test", data=typed, files=files)
    return request.headers["content-type"], request.read()


def test_a_file_counts_instead_of_what_was_typed_and_an_empty_one_does_not() -> None:
    kind, sent = body({"breaks_file": ("b.csv", b"\xef\xbb\xbfspecimen,x\r\n")}, breaks="typed", t="20", who="é")
    # A file that nobody chose comes, from browsers, as one without a name.
    mark = b"--" + kind.partition("boundary=")[2].encode()
    sent = mark + b'\r\nContent-Disposition: form-data; name="t_file"; filename=""\r\n\r\n\r\n' + sent
    found = fields_of(kind, sent, 9)
    assert found == {"breaks": ("specimen,x\r\n",), "t": ("20",), "who": ("é",)}


@given(st.binary(min_size=1, max_size=400))
def test_a_picture_comes_byte_by_byte(picture: bytes) -> None:
    boundary = "b0undary-of-a-test"
    head = b'--%b\r\nContent-Disposition: form-data; name="photo"; filename="x.jpg"\r\n\r\n' % boundary.encode()
    sent = head + picture + b"\r\n--" + boundary.encode() + b"--\r\n"
    found = fields_of(f"multipart/form-data; boundary={boundary}", sent, 9)
    assert found is not None
    assert found["photo"][0].encode("latin-1") == picture


def test_a_byte_that_is_no_text_is_no_number() -> None:
    kind, sent = body({"breaks_file": ("b.csv", b"a,4\xff1")})
    assert fields_of(kind, sent, 9) == {"breaks": ("a,4�1",)}


@pytest.mark.parametrize(
    ("kind", "sent"),
    [
        ("multipart/form-data", b"x"),
        ("multipart/form-data; boundary=b", b"nothing"),
        ("multipart/form-data; boundary=b", b"--b\r\nContent-Type: text/plain\r\n\r\nx\r\n--b--\r\n"),
    ],
)
def test_what_is_no_form_gives_none(kind: str, sent: bytes) -> None:
    assert fields_of(kind, sent, 9) is None


def test_a_form_with_too_many_fields_gives_none() -> None:
    kind, sent = body({"f": ("f", b"1")}, **{f"n{n}": "1" for n in range(9)})
    assert fields_of(kind, sent, 9) is None
