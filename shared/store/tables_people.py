"""Tables of who comes in at the pages."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, ForeignKey, Index, Text, UniqueConstraint

from shared.store.columns import number, table, text, whole

account: Final = table(
    "account",
    Column("id", Text, primary_key=True),
    text("role", null=True),
    text("hashed"),
    text("secret", null=True),
    whole("since_ms"),
    whole("code_step"),
    whole("ended_ms", null=True),
)
invitation: Final = table(
    "invitation",
    Column("digest", Text, primary_key=True),
    text("person", null=True),
    text("role", null=True),
    text("who"),
    whole("since_ms"),
    whole("until_ms"),
)
session: Final = table(
    "session",
    Column("digest", Text, primary_key=True),
    Column("person", Text, ForeignKey("account.id"), nullable=False),
    text("csrf"),
    whole("since_ms"),
    whole("until_ms"),
    Index("session_person", "person"),
)
device: Final = table(
    "device",
    number(),
    text("digest"),
    text("name"),
    text("who"),
    whole("since_ms"),
    whole("ended_ms", null=True),
    UniqueConstraint("digest", name="device_once"),
    numbered=True,
)
