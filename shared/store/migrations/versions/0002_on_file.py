"""What is on file for pours and the site, what the service knows of itself, silences."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_REAL = sa.Float(53).with_variant(sa.REAL(), "sqlite")


def _whole(name: str, *, null: bool = False) -> sa.Column[int]:
    return sa.Column(name, _WHOLE, nullable=null)


def _text(name: str, *, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=null)


def _number(name: str = "no") -> sa.Column[int]:
    return sa.Column(name, _WHOLE, primary_key=True, autoincrement=True, nullable=False)


def _create(name: str, *parts: sa.schema.SchemaItem, numbered: bool = False) -> None:
    op.create_table(name, *parts, sqlite_strict=True, sqlite_autoincrement=numbered)


def _on_file() -> None:
    _create(
        "document",
        _number(),
        _text("name"),
        _text("reference"),
        _text("bay", null=True),
        _text("pour", null=True),
        _text("who"),
        _whole("at_ms"),
        numbered=True,
    )
    op.create_index("document_name", "document", ["name"])
    _create(
        "test_result",
        _number(),
        _text("pour"),
        _text("method"),
        sa.Column("mpa", _REAL, nullable=False),
        sa.Column("equivalent_age_h", _REAL),
        _whole("last_third"),
        _text("position", null=True),
        _whole("tested_ms"),
        _text("who"),
        sa.ForeignKeyConstraint(["pour"], ["pour.id"]),
        numbered=True,
    )
    op.create_index("test_result_pour", "test_result", ["pour"])
    _create(
        "requirement",
        _number("version"),
        _whole("at_ms"),
        _text("operation"),
        _text("bay", null=True),
        _text("who"),
        _text("second_person"),
        _text("why"),
        _text("body"),
        numbered=True,
    )


def _service() -> None:
    _create(
        "clock_span",
        _number(),
        _text("boot"),
        _whole("from_ms"),
        _whole("from_boot_ms"),
        _whole("to_ms"),
        _whole("to_boot_ms"),
        _whole("synchronised"),
        numbered=True,
    )
    _create("doubt", _text("kind"), _whole("since_ms"), _text("reason"), sa.PrimaryKeyConstraint("kind"))


def _silences() -> None:
    _create(
        "silence",
        _number(),
        _text("bay", null=True),
        _whole("from_ms"),
        _whole("until_ms"),
        _text("who"),
        _text("why"),
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
