"""Since when a sensor's record has only grown at its end."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.store.migrations.making import WHOLE

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; whoever starts after this has read nothing yet."""
    op.add_column("arrival", sa.Column("rewritten", WHOLE, nullable=False, server_default="0"))


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before this column")
