"""What people enter of loggers: where in words a sensor lies and who said so; temperatures measured by hand."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.store.migrations.making import create, number, text, whole

revision = "by_hand"
down_revision = "people"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add columns and table; what is placed so far stands in the site file."""
    op.add_column("placement", text("position", null=True))
    op.add_column("placement", text("who", null=True))
    create(
        "hand_reading",
        number(),
        text("pour"),
        whole("taken_ms"),
        whole("milli_c"),
        text("position"),
        text("zone", null=True),
        whole("under_insulation"),
        text("who"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
        numbered=True,
    )
    op.create_index("hand_reading_pour", "hand_reading", ["pour"])


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before these tables")
