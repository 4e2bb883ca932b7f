"""What pulls showed of limits, and what was noted of a car: looks, facts, findings. Both append only."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the tables."""
    op.create_table(
        "trial",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("car", sa.String(64), nullable=False),
        sa.Column("slot", sa.String(64), nullable=False),
        sa.Column("kind", sa.String(64), nullable=False),
        sa.Column("rating", sa.String(64), nullable=False),
        sa.Column("part", sa.String(64)),
        sa.Column("reached", sa.Boolean(), nullable=False),
        sa.Column("demand", sa.Float(), nullable=False),
        sa.Column("capacity", sa.Float(), nullable=False),
        sa.Column("rated", sa.Float(), nullable=False),
        sa.Column("spread", sa.Float(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_trial"),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name="fk_trial_load_id_load"),
    )
    op.create_index("ix_trial_kind", "trial", ["kind", "rating"])
    op.create_table(
        "car_note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("car", sa.String(64), nullable=False),
        sa.Column("topic", sa.String(16), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_car_note"),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name="fk_car_note_load_id_load"),
    )
    op.create_index("ix_car_note_car", "car_note", ["car", "topic"])


def downgrade() -> None:
    """Drop the tables."""
    op.drop_table("car_note")
    op.drop_table("trial")
