"""What is on file for pours and the site, what the service knows of itself, silences."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.store.migrations.making import REAL, create, number, text, whole

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _on_file() -> None:
    create(
        "document",
        number(),
        text("name"),
        text("reference"),
        text("bay", null=True),
        text("pour", null=True),
        text("who"),
        whole("at_ms"),
        numbered=True,
    )
    op.create_index("document_name", "document", ["name"])
    create(
        "test_result",
        number(),
        text("pour"),
        text("method"),
        sa.Column("mpa", REAL, nullable=False),
        sa.Column("equivalent_age_h", REAL),
        whole("last_third"),
        text("position", null=True),
        whole("tested_ms"),
        text("who"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
        numbered=True,
    )
    op.create_index("test_result_pour", "test_result", ["pour"])
    create(
        "requirement",
        number("version"),
        whole("at_ms"),
        text("operation"),
        text("bay", null=True),
        text("who"),
        text("second_person"),
        text("why"),
        text("body"),
        numbered=True,
    )


def _service() -> None:
    create(
        "clock_span",
        number(),
        text("boot"),
        whole("from_ms"),
        whole("from_boot_ms"),
        whole("to_ms"),
        whole("to_boot_ms"),
        whole("synchronised"),
        numbered=True,
    )
    create("doubt", text("kind"), whole("since_ms"), text("reason"), sa.PrimaryKeyConstraint("kind"))


def _silences() -> None:
    create(
        "silence",
        number(),
        text("bay", null=True),
        whole("from_ms"),
        whole("until_ms"),
        text("who"),
        text("why"),
        numbered=True,
    )


def upgrade() -> None:
    """Make the tables."""
    _on_file()
    _service()
    _silences()


def downgrade() -> None:
    """Refuse: the way back is the backup made before."""
    raise NotImplementedError("there is no way back to before these tables")
