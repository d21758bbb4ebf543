"""How other software comes in: tokens, and the answers to requests with a key."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.store.migrations.making import WHOLE, create, number, text, whole

revision = "tokens"
down_revision = "weather"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    create(
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
        sa.UniqueConstraint("digest", name="token_once"),
        numbered=True,
    )
    create(
        "kept_answer",
        sa.Column("token", WHOLE, primary_key=True, nullable=False),
        sa.Column("key", sa.Text(), primary_key=True, nullable=False),
        text("asked"),
        whole("at_ms"),
        whole("status", null=True),
        text("body", null=True),
        sa.ForeignKeyConstraint(["token"], ["token.no"]),
    )
    op.create_index("kept_answer_at", "kept_answer", ["at_ms"])


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before these tables")
