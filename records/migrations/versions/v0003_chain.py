"""The table of the records of bays' chains, each once by its hash."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make it."""
    op.create_table(
        "chain",
        sa.Column("sha256", sa.String, primary_key=True),
        sa.Column("site", sa.String, nullable=False),
        sa.Column("bay", sa.String, nullable=False),
        sa.Column("chain", sa.String, nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("inspection", sa.String, nullable=True),
        sa.Column("revision", sa.Integer, nullable=True),
        sa.Column("stored", sa.String, nullable=False),
        sa.Column("record", sa.LargeBinary, nullable=False),
    )
    op.create_index("ix_chain_order", "chain", ["site", "bay", "chain", "place"])
