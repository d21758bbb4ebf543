"""The weather over the site, and the forecasts that rest on it with their scores."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.store.migrations.making import REAL, WHOLE, create, number, text, whole

revision = "weather"
down_revision = "refusal_decided"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    create(
        "weather",
        number(),
        text("source"),
        whole("issued_ms"),
        whole("received_ms"),
        text("digest"),
        text("hours"),
        text("left_out"),
        sa.UniqueConstraint("source", "digest", name="weather_once"),
        numbered=True,
    )
    op.create_index("weather_received", "weather", ["source", "received_ms"])
    create(
        "weather_heard",
        sa.Column("source", sa.Text(), primary_key=True),
        whole("tried_ms"),
        whole("heard_ms", null=True),
        whole("failures"),
        text("why"),
        text("tag", null=True),
        text("changed", null=True),
    )
    create(
        "forecast",
        number(),
        text("pour"),
        text("operation"),
        text("mix"),
        *(sa.Column(name, WHOLE, nullable=False) for name in ("made_ms", "through_ms", "horizon_ms")),
        *(whole(name, null=True) for name in ("low_ms", "middle_ms", "high_ms")),
        sa.Column("widened", REAL, nullable=False),
        text("levels"),
        whole("scored_ms", null=True),
        text("outcome", null=True),
        whole("found_ms", null=True),
        sa.Column("crps_h", REAL),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
        sa.UniqueConstraint("pour", "operation", "made_ms", name="forecast_once"),
        numbered=True,
    )
    op.create_index("forecast_scored", "forecast", ["scored_ms", "pour"])


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before these tables")
