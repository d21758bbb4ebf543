"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.store.migrations.making import REAL, create, number, text, whole

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _set_up() -> None:
    create(
        "setting",
        number("version"),
        whole("at_ms"),
        text("digest"),
        text("site"),
        text("calibrations"),
        numbered=True,
    )
    create(
        "calibration",
        text("mix"),
        whole("version"),
        text("digest"),
        text("body"),
        sa.PrimaryKeyConstraint("mix", "version"),
    )
    create(
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
        numbered=True,
    )
    op.create_index("placement_bay", "placement", ["bay"])
    op.create_index("placement_sensor", "placement", ["sensor"])


def _ingest() -> None:
    create(
        "arrival",
        text("sensor"),
        whole("revision"),
        whole("newest_ms"),
        whole("newest_received_ms"),
        sa.PrimaryKeyConstraint("sensor"),
    )
    create(
        "refused",
        number(),
        text("digest"),
        whole("received_ms"),
        text("topic"),
        sa.Column("payload", sa.LargeBinary(), nullable=False),
        text("reason"),
        text("detail"),
        text("sensor", null=True),
        whole("taken_ms", null=True),
        sa.UniqueConstraint("digest", name="refused_once"),
        numbered=True,
    )
    op.create_index("refused_reading", "refused", ["sensor", "taken_ms"])
    create(
        "conflict",
        number(),
        text("sensor"),
        whole("taken_ms"),
        whole("kept_milli_c"),
        whole("other_milli_c"),
        whole("received_ms"),
        sa.UniqueConstraint("sensor", "taken_ms", "kept_milli_c", "other_milli_c", name="conflict_once"),
        numbered=True,
    )
    create(
        "heard",
        text("logger"),
        whole("heard_ms"),
        text("boot", null=True),
        whole("sequence", null=True),
        sa.Column("battery_percent", REAL),
        sa.Column("signal_db", REAL),
        sa.PrimaryKeyConstraint("logger"),
    )


def _pours() -> None:
    create(
        "pour",
        text("id"),
        text("bay"),
        text("mix"),
        whole("start_ms"),
        whole("end_ms", null=True),
        whole("closed_ms", null=True),
        whole("calibration_version", null=True),
        whole("touched"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("pour_bay", "pour", ["bay"])
    create(
        "pour_state",
        text("pour"),
        whole("as_of_ms"),
        whole("input_revision"),
        whole("next_due_ms"),
        text("code"),
        text("estimate", null=True),
        text("verdicts"),
        text("memory"),
        sa.PrimaryKeyConstraint("pour"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
    )
    op.create_index("pour_state_due", "pour_state", ["next_due_ms"])


def _gates() -> None:
    create("snapshot", text("digest"), text("body"), sa.PrimaryKeyConstraint("digest"))
    create(
        "gate",
        text("pour"),
        text("operation"),
        text("state"),
        whole("epoch"),
        whole("changed_ms"),
        text("reason"),
        whole("steady_from_ms", null=True),
        text("snapshot", null=True),
        text("signers"),
        text("before", null=True),
        sa.PrimaryKeyConstraint("pour", "operation"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
        sa.ForeignKeyConstraint(["snapshot"], ["snapshot.digest"]),
    )
    create(
        "hold",
        text("pour"),
        text("kind"),
        whole("since_ms"),
        text("owner"),
        text("reason"),
        text("how"),
        sa.PrimaryKeyConstraint("pour", "kind"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
    )


def _messages() -> None:
    create(
        "message",
        number(),
        text("kind"),
        text("pour"),
        text("subject"),
        whole("epoch"),
        whole("at_ms"),
        whole("valid_until_ms", null=True),
        text("facts"),
        whole("routed"),
        whole("log_seq"),
        text("log_hash"),
        sa.UniqueConstraint("pour", "subject", "epoch", "kind", name="message_once"),
        numbered=True,
    )
    op.create_index("message_routed", "message", ["routed", "no"])
    create(
        "delivery",
        number(),
        whole("message"),
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
        sa.ForeignKeyConstraint(["message"], ["message.no"]),
        sa.UniqueConstraint("message", "recipient", "channel", name="delivery_once"),
        numbered=True,
    )
    op.create_index("delivery_due", "delivery", ["state", "next_ms"])
    op.create_index("delivery_busy", "delivery", ["recipient", "channel", "state"])


def _log() -> None:
    create(
        "act",
        number(),
        whole("at_ms"),
        text("who"),
        text("kind"),
        text("pour", null=True),
        text("body"),
        numbered=True,
    )
    create(
        "log",
        number("seq"),
        whole("at_ms"),
        text("who"),
        text("what"),
        text("body"),
        text("prev"),
        text("hash"),
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
