"""What people do about the tokens of other software. The secret never leaves the command that makes it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, StringConstraints

from shared.models.act_base import ActBase
from shared.models.base import Id, Line
from shared.models.tokens import Scope

Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class MakeToken(ActBase):
    """Other software comes in from now on, in the name of a person."""

    kind: Literal["make_token"] = "make_token"
    name: Line
    person: Id
    scopes: Annotated[tuple[Scope, ...], Field(min_length=1)]
    digest: Digest
    """SHA-256 of the token."""
    until: AwareDatetime | None = None
    """None: until somebody ends it."""


class EndToken(ActBase):
    """A token opens nothing any more."""

    kind: Literal["end_token"] = "end_token"
    token: Annotated[int, Field(ge=1, lt=2**53)]
    """Its number."""
