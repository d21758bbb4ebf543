"""Tables of the site book. Portable types only: whole numbers, text (JSON is canonical text), bytes, real numbers.

A change here needs a migration in `migrations/versions`; a test holds both against each other.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, ForeignKey, Index, LargeBinary, Text, UniqueConstraint

from shared.store import tables_people, tables_starts, tables_tokens, tables_weather
from shared.store.columns import METADATA, Real, Whole, number, of_pour, table, text, whole

__all__ = ["METADATA", "tables_people", "tables_starts", "tables_tokens", "tables_weather"]

# Set-up: the site file and the calibrations as accepted, versioned.
setting: Final = table(
    "setting",
    Column("version", Whole, primary_key=True, autoincrement=True),
    whole("at_ms"),
    text("digest"),
    text("site"),
    text("calibrations"),
    numbered=True,
)
calibration: Final = table(
    "calibration",
    Column("mix", Text, primary_key=True),
    Column("version", Whole, primary_key=True, autoincrement=False),
    text("digest"),
    text("body"),
)
placement: Final = table(
    "placement",
    number(),
    text("sensor"),
    text("bay"),
    text("zone"),
    whole("depth_mm", null=True),
    whole("interval_s"),
    whole("required"),
    whole("from_ms"),
    whole("to_ms", null=True),
    text("position", null=True),
    text("who", null=True),
    Index("placement_bay", "bay"),
    Index("placement_sensor", "sensor"),
    numbered=True,
)
# Written by ingest.
arrival: Final = table(
    "arrival",
    Column("sensor", Text, primary_key=True),
    whole("revision"),
    whole("newest_ms"),
    whole("newest_received_ms"),
    Column("rewritten", Whole, nullable=False, server_default="0"),
)
refused: Final = table(
    "refused",
    number(),
    text("digest"),
    whole("received_ms"),
    text("topic"),
    Column("payload", LargeBinary, nullable=False),
    text("reason"),
    text("detail"),
    text("sensor", null=True),
    whole("taken_ms", null=True),
    UniqueConstraint("digest", name="refused_once"),
    Index("refused_reading", "sensor", "taken_ms"),
    numbered=True,
)
refusal_decided: Final = table(
    "refusal_decided",
    Column("refused", Whole, ForeignKey("refused.no"), primary_key=True),
    whole("at_ms"),
    text("outcome"),
)
conflict: Final = table(
    "conflict",
    number(),
    text("sensor"),
    whole("taken_ms"),
    whole("kept_milli_c"),
    whole("other_milli_c"),
    whole("received_ms"),
    UniqueConstraint("sensor", "taken_ms", "kept_milli_c", "other_milli_c", name="conflict_once"),
    numbered=True,
)
heard: Final = table(
    "heard",
    Column("logger", Text, primary_key=True),
    whole("heard_ms"),
    text("boot", null=True),
    whole("sequence", null=True),
    Column("battery_percent", Real),
    Column("signal_db", Real),
)
sequence: Final = table(
    "sequence",
    Column("logger", Text, primary_key=True),
    text("boot", null=True),
    whole("first", null=True),
    whole("newest"),
    text("missing"),
)

# Written by cure.
pour: Final = table(
    "pour",
    Column("id", Text, primary_key=True),
    text("bay"),
    text("mix"),
    whole("start_ms"),
    whole("end_ms", null=True),
    whole("closed_ms", null=True),
    whole("calibration_version", null=True),
    whole("touched"),
    Index("pour_bay", "bay"),
)
pour_state: Final = table(
    "pour_state",
    Column("pour", Text, ForeignKey("pour.id"), primary_key=True),
    whole("as_of_ms"),
    whole("input_revision"),
    whole("next_due_ms"),
    text("code"),
    text("estimate", null=True),
    text("verdicts"),
    text("memory"),
    Index("pour_state_due", "next_due_ms"),
)
snapshot: Final = table("snapshot", Column("digest", Text, primary_key=True), text("body"))
gate: Final = table(
    "gate",
    Column("pour", Text, ForeignKey("pour.id"), primary_key=True),
    Column("operation", Text, primary_key=True),
    text("state"),
    whole("epoch"),
    whole("changed_ms"),
    text("reason"),
    whole("steady_from_ms", null=True),
    Column("snapshot", Text, ForeignKey("snapshot.digest")),
    text("signers"),
    text("before", null=True),
)
hold: Final = table(
    "hold",
    Column("pour", Text, ForeignKey("pour.id"), primary_key=True),
    Column("kind", Text, primary_key=True),
    whole("since_ms"),
    text("owner"),
    text("reason"),
    text("how"),
)
document: Final = table(
    "document",
    number(),
    text("name"),
    text("reference"),
    text("bay", null=True),
    text("pour", null=True),
    text("who"),
    whole("at_ms"),
    Index("document_name", "name"),
    numbered=True,
)
test_result: Final = table(
    "test_result",
    number(),
    of_pour(),
    text("method"),
    Column("mpa", Real, nullable=False),
    Column("equivalent_age_h", Real),
    whole("last_third"),
    text("position", null=True),
    whole("tested_ms"),
    text("who"),
    Index("test_result_pour", "pour"),
    numbered=True,
)
hand_reading: Final = table(
    "hand_reading",
    number(),
    of_pour(),
    whole("taken_ms"),
    whole("milli_c"),
    text("position"),
    text("zone", null=True),
    whole("under_insulation"),
    text("who"),
    Index("hand_reading_pour", "pour"),
    numbered=True,
)
requirement: Final = table(
    "requirement",
    Column("version", Whole, primary_key=True, autoincrement=True),
    whole("at_ms"),
    text("operation"),
    text("bay", null=True),
    text("who"),
    text("second_person"),
    text("why"),
    text("body"),
    numbered=True,
)
# The service about itself.
clock_span: Final = table(
    "clock_span",
    number(),
    text("boot"),
    whole("from_ms"),
    whole("from_boot_ms"),
    whole("to_ms"),
    whole("to_boot_ms"),
    whole("synchronised"),
    numbered=True,
)
doubt: Final = table(
    "doubt",
    Column("kind", Text, primary_key=True),
    whole("since_ms"),
    text("reason"),
)
message: Final = table(
    "message",
    number(),
    text("kind"),
    # No foreign key: "" is the whole site.
    text("pour"),
    text("subject"),
    whole("epoch"),
    whole("at_ms"),
    whole("valid_until_ms", null=True),
    text("facts"),
    whole("routed"),
    whole("log_seq"),
    text("log_hash"),
    UniqueConstraint("pour", "subject", "epoch", "kind", name="message_once"),
    Index("message_routed", "routed", "no"),
    numbered=True,
)
# Written by alerts.
delivery: Final = table(
    "delivery",
    number(),
    Column("message", Whole, ForeignKey("message.no"), nullable=False),
    text("recipient"),
    whole("channel"),
    text("state"),
    whole("attempt"),
    whole("next_ms"),
    whole("lease_until_ms", null=True),
    text("lease_token", null=True),
    whole("called_ms", null=True),
    text("outcome"),
    whole("was_unsure"),
    whole("again"),
    whole("accepted_ms", null=True),
    whole("was_accepted"),
    UniqueConstraint("message", "recipient", "channel", name="delivery_once"),
    Index("delivery_due", "state", "next_ms"),
    Index("delivery_busy", "recipient", "channel", "state"),
    numbered=True,
)
silence: Final = table(
    "silence",
    number(),
    text("bay", null=True),
    whole("from_ms"),
    whole("until_ms"),
    text("who"),
    text("why"),
    numbered=True,
)

# What people did, and the site's log: a chain of hashes that nothing may change.
act: Final = table(
    "act",
    number(),
    whole("at_ms"),
    text("who"),
    text("kind"),
    text("pour", null=True),
    text("body"),
    numbered=True,
)
log: Final = table(
    "log",
    Column("seq", Whole, primary_key=True, autoincrement=True),
    whole("at_ms"),
    text("who"),
    text("what"),
    text("body"),
    text("prev"),
    text("hash"),
    numbered=True,
)
