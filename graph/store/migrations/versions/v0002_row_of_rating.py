"""Each rating leads to the sheet row it came from; the outcome of a row is one of three."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the row of a rating and the check of outcomes."""
    with op.batch_alter_table("rating") as batch:
        batch.add_column(sa.Column("row_id", sa.Integer()))
        batch.create_foreign_key("fk_rating_row_id_sheet_row", "sheet_row", ["row_id"], ["id"])
        batch.create_index("ix_rating_row_id", ["row_id"])
    with op.batch_alter_table("sheet_row") as batch:
        batch.create_check_constraint("ck_sheet_row_outcome", "outcome IN ('loaded', 'held', 'not data')")


def downgrade() -> None:
    """Take both away."""
    with op.batch_alter_table("sheet_row") as batch:
        batch.drop_constraint("ck_sheet_row_outcome", type_="check")
    with op.batch_alter_table("rating") as batch:
        batch.drop_index("ix_rating_row_id")
        batch.drop_constraint("fk_rating_row_id_sheet_row", type_="foreignkey")
        batch.drop_column("row_id")
