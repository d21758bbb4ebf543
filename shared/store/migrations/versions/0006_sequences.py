"""What the numbers of each logger's messages have come to."""

from __future__ import annotations

import sqlalchemy as sa

from shared.store.migrations.making import create, text, whole

revision = "sequences"
down_revision = "by_hand"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; what was missed before is not known."""
    create(
        "sequence",
        sa.Column("logger", sa.Text(), primary_key=True, nullable=False),
        text("boot", null=True),
        whole("first", null=True),
        whole("newest"),
        text("missing"),
    )


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before this table")
