"""The register: engines, dampers, gauges, and what became of them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make its tables."""
    op.create_table(
        "register_engines",
        sa.Column("engine", sa.String, primary_key=True),
        sa.Column("fleet", sa.String, nullable=False),
        sa.Column("rating_kw", sa.Float),
    )
    op.create_table(
        "register_dampers",
        sa.Column("damper", sa.String, primary_key=True),
        sa.Column("family", sa.String, nullable=False),
        sa.Column("construction", sa.String),
    )
    op.create_table(
        "register_gauges",
        sa.Column("gauge", sa.String, primary_key=True),
        sa.Column("what", sa.String, nullable=False),
        sa.Column("resolution_mm", sa.Float, nullable=False),
        sa.Column("mpe_mm", sa.Float, nullable=False),
        sa.Column("calibration_due", sa.String, nullable=False),
        sa.Column("certificate", sa.String, nullable=False),
    )
    op.create_table(
        "register_fittings",
        sa.Column("engine", sa.String, sa.ForeignKey("register_engines.engine"), primary_key=True),
        sa.Column("date", sa.String, primary_key=True),
        sa.Column("damper", sa.String, sa.ForeignKey("register_dampers.damper"), nullable=False),
    )
    op.create_table(
        "register_readings",
        sa.Column("engine", sa.String, sa.ForeignKey("register_engines.engine"), primary_key=True),
        sa.Column("date", sa.String, primary_key=True),
        sa.Column("distance_km", sa.Float),
        sa.Column("hours_h", sa.Float),
    )
    op.create_table(
        "register_events",
        sa.Column("engine", sa.String, sa.ForeignKey("register_engines.engine"), primary_key=True),
        sa.Column("date", sa.String, primary_key=True),
        sa.Column("trigger", sa.String, primary_key=True),
        sa.Column("note", sa.String, nullable=False),
    )
