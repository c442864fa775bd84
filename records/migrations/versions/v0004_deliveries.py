"""The table of results that were handed on to other systems."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make it."""
    op.create_table(
        "deliveries",
        sa.Column("receiver", sa.String, primary_key=True),
        sa.Column("inspection", sa.String, primary_key=True),
        sa.Column("revision", sa.Integer, primary_key=True),
        sa.Column("ended", sa.String, nullable=False),
        sa.Column("said", sa.String, nullable=False),
        sa.Column("time", sa.String, nullable=False),
    )
