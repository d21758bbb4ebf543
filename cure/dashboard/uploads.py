"""Forms with files in them. What a file says takes the place of what was typed."""

from __future__ import annotations

from email.parser import BytesParser
from email.policy import HTTP
from typing import Final

FILE_OF: Final = "_file"
"""A file's field is named as the field that it takes the place of, with this behind."""
PHOTO: Final = "photo"
"""The field of a picture: each of its bytes is one sign (Latin-1)."""


def fields_of(kind: str, body: bytes, most: int) -> dict[str, tuple[str, ...]] | None:
    """Return the fields of a form of the kind "multipart/form-data"; None: it is none, or has too many.

    A byte that is no UTF-8 becomes a sign that no number holds: it cannot pass for one.

    Args:
        kind: the form's Content-Type.
        body: the form.
        most: how many fields it may have.
    """
    message = BytesParser(policy=HTTP).parsebytes(b"Content-Type: " + kind.encode("latin-1") + b"\r\n\r\n" + body)
    if not message.is_multipart():
        return None
    parts = list(message.iter_parts())
    if len(parts) > most:
        return None
    typed: dict[str, tuple[str, ...]] = {}
    files: dict[str, str] = {}
    for part in parts:
        name = part.get_param("name", header="content-disposition")
        payload = part.get_payload(decode=True)
        if not isinstance(name, str) or not isinstance(payload, bytes):
            return None
        picture = name == PHOTO and part.get_filename() is not None
        text = payload.decode("latin-1") if picture else payload.decode("utf-8-sig", "replace")
        if picture or part.get_filename() is None:
            typed[name] = (*typed.get(name, ()), text)
        elif text.strip():
            files[name.removesuffix(FILE_OF)] = text
    return {**typed, **{name: (text,) for name, text in files.items()}}
