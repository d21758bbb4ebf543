"""Who comes in at the pages: accounts, invitations, sessions, keys of devices."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.store.migrations.making import create, number, text, whole

revision = "people"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    create(
        "account",
        sa.Column("id", sa.Text(), primary_key=True, nullable=False),
        text("role", null=True),
        text("hashed"),
        text("secret", null=True),
        whole("since_ms"),
        whole("code_step"),
        whole("ended_ms", null=True),
    )
    create(
        "invitation",
        sa.Column("digest", sa.Text(), primary_key=True, nullable=False),
        text("person", null=True),
        text("role", null=True),
        text("who"),
        whole("since_ms"),
        whole("until_ms"),
    )
    create(
        "session",
        sa.Column("digest", sa.Text(), primary_key=True, nullable=False),
        text("person"),
        text("csrf"),
        whole("since_ms"),
        whole("until_ms"),
        sa.ForeignKeyConstraint(["person"], ["account.id"]),
    )
    op.create_index("session_person", "session", ["person"])
    create(
        "device",
        number(),
        text("digest"),
        text("name"),
        text("who"),
        whole("since_ms"),
        whole("ended_ms", null=True),
        sa.UniqueConstraint("digest", name="device_once"),
        numbered=True,
    )


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before these tables")
