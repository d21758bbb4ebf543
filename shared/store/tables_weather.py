"""Tables of the weather, and of the forecasts that rest on it."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, Index, Text, UniqueConstraint

from shared.store.columns import Real, number, of_pour, table, text, whole

weather: Final = table(
    "weather",
    number(),
    text("source"),
    whole("issued_ms"),
    whole("received_ms"),
    text("digest"),
    text("hours"),
    text("left_out"),
    UniqueConstraint("source", "digest", name="weather_once"),
    Index("weather_received", "source", "received_ms"),
    numbered=True,
)
weather_heard: Final = table(
    "weather_heard",
    Column("source", Text, primary_key=True),
    whole("tried_ms"),
    whole("heard_ms", null=True),
    whole("failures"),
    text("why"),
    text("tag", null=True),
    text("changed", null=True),
)
forecast: Final = table(
    "forecast",
    number(),
    of_pour(),
    text("operation"),
    text("mix"),
    whole("made_ms"),
    whole("through_ms"),
    whole("horizon_ms"),
    whole("low_ms", null=True),
    whole("middle_ms", null=True),
    whole("high_ms", null=True),
    Column("widened", Real, nullable=False),
    text("levels"),
    whole("scored_ms", null=True),
    text("outcome", null=True),
    whole("found_ms", null=True),
    Column("crps_h", Real),
    UniqueConstraint("pour", "operation", "made_ms", name="forecast_once"),
    Index("forecast_scored", "scored_ms", "pour"),
    numbered=True,
)
