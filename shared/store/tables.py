"""Tables of the site book. Portable types only: whole numbers, text (JSON is canonical text), bytes, real numbers.

A change here needs a migration in `migrations/versions`; a test holds both against each other.
"""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import (
    REAL,
    BigInteger,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

METADATA: Final = MetaData()

# STRICT tables of SQLite know INTEGER, REAL, TEXT and BLOB only.
Whole: Final = BigInteger().with_variant(Integer(), "sqlite")
Real: Final = Float(53).with_variant(REAL(), "sqlite")


def _number() -> Column[int]:
    return Column("no", Whole, primary_key=True, autoincrement=True)


def _whole(name: str, *, null: bool = False) -> Column[int]:
    return Column(name, Whole, nullable=null)


def _text(name: str, *, null: bool = False) -> Column[str]:
    return Column(name, Text, nullable=null)


def _pour() -> Column[str]:
    return Column("pour", Text, ForeignKey("pour.id"), nullable=False)


def _table(name: str, *parts: Any, numbered: bool = False) -> Table:
    return Table(name, METADATA, *parts, sqlite_strict=True, sqlite_autoincrement=numbered)


# Set-up: the site file and the calibrations as accepted, versioned.
setting: Final = _table(
    "setting",
    Column("version", Whole, primary_key=True, autoincrement=True),
    _whole("at_ms"),
    _text("digest"),
    _text("site"),
    _text("calibrations"),
    numbered=True,
)
calibration: Final = _table(
    "calibration",
    Column("mix", Text, primary_key=True),
    Column("version", Whole, primary_key=True, autoincrement=False),
    _text("digest"),
    _text("body"),
)
placement: Final = _table(
    "placement",
    _number(),
    _text("sensor"),
    _text("bay"),
    _text("zone"),
    _whole("depth_mm", null=True),
    _whole("interval_s"),
    _whole("required"),
    _whole("from_ms"),
    _whole("to_ms", null=True),
    Index("placement_bay", "bay"),
    Index("placement_sensor", "sensor"),
    numbered=True,
)

# Written by ingest.
arrival: Final = _table(
    "arrival",
    Column("sensor", Text, primary_key=True),
    _whole("revision"),
    _whole("newest_ms"),
    _whole("newest_received_ms"),
)
refused: Final = _table(
    "refused",
    _number(),
    _text("digest"),
    _whole("received_ms"),
    _text("topic"),
    Column("payload", LargeBinary, nullable=False),
    _text("reason"),
    _text("detail"),
    _text("sensor", null=True),
    UniqueConstraint("digest", name="refused_once"),
    numbered=True,
)
conflict: Final = _table(
    "conflict",
    _number(),
    _text("sensor"),
    _whole("taken_ms"),
    _whole("kept_milli_c"),
    _whole("other_milli_c"),
    _whole("received_ms"),
    UniqueConstraint("sensor", "taken_ms", "kept_milli_c", "other_milli_c", name="conflict_once"),
    numbered=True,
)
heard: Final = _table(
    "heard",
    Column("logger", Text, primary_key=True),
    _whole("heard_ms"),
    _text("boot", null=True),
    _whole("sequence", null=True),
    Column("battery_percent", Real),
    Column("signal_db", Real),
)

# Written by cure.
pour: Final = _table(
    "pour",
    Column("id", Text, primary_key=True),
    _text("bay"),
    _text("mix"),
    _whole("start_ms"),
    _whole("end_ms", null=True),
    _whole("closed_ms", null=True),
    _whole("calibration_version", null=True),
    _whole("touched"),
    Index("pour_bay", "bay"),
)
pour_state: Final = _table(
    "pour_state",
    Column("pour", Text, ForeignKey("pour.id"), primary_key=True),
    _whole("as_of_ms"),
    _whole("input_revision"),
    _whole("next_due_ms"),
    _text("code"),
    _text("estimate", null=True),
    _text("verdicts"),
    _text("memory"),
    Index("pour_state_due", "next_due_ms"),
)
snapshot: Final = _table("snapshot", Column("digest", Text, primary_key=True), _text("body"))
gate: Final = _table(
    "gate",
    Column("pour", Text, ForeignKey("pour.id"), primary_key=True),
    Column("operation", Text, primary_key=True),
    _text("state"),
    _whole("epoch"),
    _whole("changed_ms"),
    _text("reason"),
    _whole("steady_from_ms", null=True),
    Column("snapshot", Text, ForeignKey("snapshot.digest")),
    _text("signers"),
    _text("before", null=True),
)
hold: Final = _table(
    "hold",
    Column("pour", Text, ForeignKey("pour.id"), primary_key=True),
    Column("kind", Text, primary_key=True),
    _whole("since_ms"),
    _text("owner"),
    _text("reason"),
    _text("how"),
)
message: Final = _table(
    "message",
    _number(),
    _text("kind"),
    _pour(),
    _text("subject"),
    _whole("epoch"),
    _whole("at_ms"),
    _whole("valid_until_ms", null=True),
    _text("facts"),
    _whole("routed"),
    UniqueConstraint("pour", "subject", "epoch", "kind", name="message_once"),
    Index("message_routed", "routed", "no"),
    numbered=True,
)

# Written by alerts.
delivery: Final = _table(
    "delivery",
    _number(),
    Column("message", Whole, ForeignKey("message.no"), nullable=False),
    _text("recipient"),
    _whole("channel"),
    _text("state"),
    _whole("attempt"),
    _whole("next_ms"),
    _whole("lease_until_ms", null=True),
    _text("lease_token", null=True),
    _whole("called_ms", null=True),
    _text("outcome"),
    _whole("was_unsure"),
    _whole("again"),
    _whole("was_accepted"),
    UniqueConstraint("message", "recipient", "channel", name="delivery_once"),
    Index("delivery_due", "state", "next_ms"),
    Index("delivery_busy", "recipient", "channel", "state"),
    numbered=True,
)

# What people did, and the site's log: a chain of hashes that nothing may change.
act: Final = _table(
    "act",
    _number(),
    _whole("at_ms"),
    _text("who"),
    _text("kind"),
    _text("pour", null=True),
    _text("body"),
    numbered=True,
)
log: Final = _table(
    "log",
    Column("seq", Whole, primary_key=True, autoincrement=True),
    _whole("at_ms"),
    _text("who"),
    _text("what"),
    _text("body"),
    _text("prev"),
    _text("hash"),
    numbered=True,
)
