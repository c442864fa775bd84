"""The table of results, each revision of an inspection once."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make it."""
    op.create_table(
        "results",
        sa.Column("inspection", sa.String, primary_key=True),
        sa.Column("revision", sa.Integer, primary_key=True),
        sa.Column("state", sa.String, nullable=False),
        sa.Column("site", sa.String, nullable=False),
        sa.Column("bay", sa.String, nullable=False),
        sa.Column("engine", sa.String, nullable=False),
        sa.Column("damper", sa.String, nullable=False),
        sa.Column("verdict", sa.String, nullable=False),
        sa.Column("opened", sa.String, nullable=False),
        sa.Column("stored", sa.String, nullable=False),
        sa.Column("sha256", sa.String, nullable=False),
        sa.Column("document", sa.LargeBinary, nullable=False),
    )
    for column in ("engine", "damper", "stored"):
        op.create_index(f"ix_results_{column}", "results", [column])
