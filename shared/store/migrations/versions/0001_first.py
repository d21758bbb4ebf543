"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_REAL = sa.Float(53).with_variant(sa.REAL(), "sqlite")


def _whole(name: str, *, null: bool = False) -> sa.Column[int]:
    return sa.Column(name, _WHOLE, nullable=null)


def _text(name: str, *, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=null)


def _number(name: str = "no") -> sa.Column[int]:
    return sa.Column(name, _WHOLE, primary_key=True, autoincrement=True, nullable=False)


def _create(name: str, *parts: sa.schema.SchemaItem, numbered: bool = False) -> None:
    op.create_table(name, *parts, sqlite_strict=True, sqlite_autoincrement=numbered)


def _set_up() -> None:
    _create(
        "setting",
        _number("version"),
        _whole("at_ms"),
        _text("digest"),
        _text("site"),
        _text("calibrations"),
        numbered=True,
    )
    _create(
        "calibration",
        _text("mix"),
        _whole("version"),
        _text("digest"),
        _text("body"),
        sa.PrimaryKeyConstraint("mix", "version"),
    )
    _create(
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
        numbered=True,
    )
    op.create_index("placement_bay", "placement", ["bay"])
    op.create_index("placement_sensor", "placement", ["sensor"])


def _ingest() -> None:
    _create(
        "arrival",
        _text("sensor"),
        _whole("revision"),
        _whole("newest_ms"),
        _whole("newest_received_ms"),
        sa.PrimaryKeyConstraint("sensor"),
    )
    _create(
        "refused",
        _number(),
        _text("digest"),
        _whole("received_ms"),
        _text("topic"),
        sa.Column("payload", sa.LargeBinary(), nullable=False),
        _text("reason"),
        _text("detail"),
        _text("sensor", null=True),
        _whole("taken_ms", null=True),
        sa.UniqueConstraint("digest", name="refused_once"),
        numbered=True,
    )
    op.create_index("refused_reading", "refused", ["sensor", "taken_ms"])
    _create(
        "conflict",
        _number(),
        _text("sensor"),
        _whole("taken_ms"),
        _whole("kept_milli_c"),
        _whole("other_milli_c"),
        _whole("received_ms"),
        sa.UniqueConstraint("sensor", "taken_ms", "kept_milli_c", "other_milli_c", name="conflict_once"),
        numbered=True,
    )
    _create(
        "heard",
        _text("logger"),
        _whole("heard_ms"),
        _text("boot", null=True),
        _whole("sequence", null=True),
        sa.Column("battery_percent", _REAL),
        sa.Column("signal_db", _REAL),
        sa.PrimaryKeyConstraint("logger"),
    )


def _pours() -> None:
    _create(
        "pour",
        _text("id"),
        _text("bay"),
        _text("mix"),
        _whole("start_ms"),
        _whole("end_ms", null=True),
        _whole("closed_ms", null=True),
        _whole("calibration_version", null=True),
        _whole("touched"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("pour_bay", "pour", ["bay"])
    _create(
        "pour_state",
        _text("pour"),
        _whole("as_of_ms"),
        _whole("input_revision"),
        _whole("next_due_ms"),
        _text("code"),
        _text("estimate", null=True),
        _text("verdicts"),
        _text("memory"),
        sa.PrimaryKeyConstraint("pour"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
    )
    op.create_index("pour_state_due", "pour_state", ["next_due_ms"])


def _gates() -> None:
    _create("snapshot", _text("digest"), _text("body"), sa.PrimaryKeyConstraint("digest"))
    _create(
        "gate",
        _text("pour"),
        _text("operation"),
        _text("state"),
        _whole("epoch"),
        _whole("changed_ms"),
        _text("reason"),
        _whole("steady_from_ms", null=True),
        _text("snapshot", null=True),
        _text("signers"),
        _text("before", null=True),
        sa.PrimaryKeyConstraint("pour", "operation"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
        sa.ForeignKeyConstraint(["snapshot"], ["snapshot.digest"]),
    )
    _create(
        "hold",
        _text("pour"),
        _text("kind"),
        _whole("since_ms"),
        _text("owner"),
        _text("reason"),
        _text("how"),
        sa.PrimaryKeyConstraint("pour", "kind"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
    )


def _messages() -> None:
    _create(
        "message",
        _number(),
        _text("kind"),
        _text("pour"),
        _text("subject"),
        _whole("epoch"),
        _whole("at_ms"),
        _whole("valid_until_ms", null=True),
        _text("facts"),
        _whole("routed"),
        _whole("log_seq"),
        _text("log_hash"),
        sa.UniqueConstraint("pour", "subject", "epoch", "kind", name="message_once"),
        numbered=True,
    )
    op.create_index("message_routed", "message", ["routed", "no"])
    _create(
        "delivery",
        _number(),
        _whole("message"),
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
        _whole("accepted_ms", null=True),
        _whole("was_accepted"),
        sa.ForeignKeyConstraint(["message"], ["message.no"]),
        sa.UniqueConstraint("message", "recipient", "channel", name="delivery_once"),
        numbered=True,
    )
    op.create_index("delivery_due", "delivery", ["state", "next_ms"])
    op.create_index("delivery_busy", "delivery", ["recipient", "channel", "state"])


def _log() -> None:
    _create(
        "act",
        _number(),
        _whole("at_ms"),
        _text("who"),
        _text("kind"),
        _text("pour", null=True),
        _text("body"),
        numbered=True,
    )
    _create(
        "log",
        _number("seq"),
        _whole("at_ms"),
        _text("who"),
        _text("what"),
        _text("body"),
        _text("prev"),
        _text("hash"),
        numbered=True,
    )
    if op.get_bind().dialect.name == "sqlite":
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER log_no_{change.lower()} BEFORE {change} ON log "
                "BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END"
            )


def upgrade() -> None:
    """Make every table."""
    _set_up()
    _ingest()
    _pours()
    _gates()
    _messages()
    _log()


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before the first tables")
