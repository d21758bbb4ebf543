"""What the numbers of loggers' earlier starts had come to: a row a logger, written by ingest."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, Text

from shared.store.columns import table, text

starts_before: Final = table("starts_before", Column("logger", Text, primary_key=True), text("starts"))
