"""Tables of other software's way in."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, ForeignKey, Index, Text, UniqueConstraint

from shared.store.columns import Whole, number, table, text, whole

token: Final = table(
    "token",
    number(),
    text("digest"),
    text("name"),
    text("person"),
    text("scopes"),
    text("who"),
    whole("since_ms"),
    whole("until_ms", null=True),
    whole("ended_ms", null=True),
    UniqueConstraint("digest", name="token_once"),
    numbered=True,
)
kept_answer: Final = table(
    "kept_answer",
    Column("token", Whole, ForeignKey("token.no"), primary_key=True, nullable=False),
    Column("key", Text, primary_key=True, nullable=False),
    text("asked"),
    whole("at_ms"),
    whole("status", null=True),
    text("body", null=True),
    Index("kept_answer_at", "at_ms"),
)
