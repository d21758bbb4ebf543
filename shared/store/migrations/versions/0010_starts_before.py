"""What the numbers of earlier starts of each logger had come to."""

from __future__ import annotations

import sqlalchemy as sa

from shared.store.migrations.making import create, text

revision = "starts_before"
down_revision = "tokens"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; of starts before this nothing is known."""
    create("starts_before", sa.Column("logger", sa.Text(), primary_key=True, nullable=False), text("starts"))


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before this table")
