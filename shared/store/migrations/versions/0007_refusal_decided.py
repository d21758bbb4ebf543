"""What became of a refusal when a person had it screened again."""

from __future__ import annotations

import sqlalchemy as sa

from shared.store.migrations.making import WHOLE, create, text, whole

revision = "refusal_decided"
down_revision = "sequences"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    create(
        "refusal_decided",
        sa.Column("refused", WHOLE, primary_key=True),
        whole("at_ms"),
        text("outcome"),
        sa.ForeignKeyConstraint(["refused"], ["refused.no"]),
    )


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before this table")
