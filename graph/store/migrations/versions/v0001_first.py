"""First schema: loads, sheet rows, parts with ratings and relations, platforms and cars."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the tables."""
    op.create_table(
        "load",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("tool_version", sa.Text(), nullable=False),
        sa.Column("mapping", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_load"),
    )
    op.create_table(
        "sheet_row",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("sheet", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("cells", sa.JSON(), nullable=False),
        sa.Column("outcome", sa.String(16), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sheet_row"),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name="fk_sheet_row_load_id_load"),
    )
    op.create_index("ix_sheet_row_load_id", "sheet_row", ["load_id"])
    op.create_table(
        "part_revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.String(64), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("content", sa.String(64), nullable=False),
        sa.Column("kind", sa.String(64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("maker", sa.Text(), nullable=False),
        sa.Column("factory", sa.Boolean(), nullable=False),
        sa.Column("price", sa.Float()),
        sa.Column("labour", sa.Float()),
        sa.Column("lead_time", sa.Float()),
        sa.Column("stock", sa.Integer()),
        sa.Column("tasks", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("superseded_by", sa.Integer()),
        sa.PrimaryKeyConstraint("id", name="pk_part_revision"),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name="fk_part_revision_load_id_load"),
        sa.ForeignKeyConstraint(
            ["superseded_by"], ["part_revision.id"], name="fk_part_revision_superseded_by_part_revision"
        ),
    )
    op.create_index("ix_part_revision_current", "part_revision", ["superseded_by", "kind", "part_id"])
    op.create_index("ix_part_revision_part_id", "part_revision", ["part_id"])
    op.create_table(
        "part_fit",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(64), nullable=False),
        sa.Column("kind", sa.String(64), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("revision_id", "position", name="pk_part_fit"),
        sa.ForeignKeyConstraint(["revision_id"], ["part_revision.id"], name="fk_part_fit_revision_id_part_revision"),
    )
    op.create_index("ix_part_fit_code", "part_fit", ["code", "kind", "current", "revision_id"])
    op.create_table(
        "rating",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(64), nullable=False),
        sa.Column("value", sa.Float()),
        sa.Column("curve", sa.JSON()),
        sa.Column("spread", sa.Float(), nullable=False),
        sa.Column("meaning", sa.String(32), nullable=False),
        sa.Column("conditions", sa.JSON(), nullable=False),
        sa.Column("evidence_kind", sa.String(32), nullable=False),
        sa.Column("evidence_source", sa.Text(), nullable=False),
        sa.Column("evidence_detail", sa.Text(), nullable=False),
        sa.Column("evidence_date", sa.String(10)),
        sa.Column("evidence_by", sa.Text()),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("revision_id", "position", name="pk_rating"),
        sa.ForeignKeyConstraint(["revision_id"], ["part_revision.id"], name="fk_rating_revision_id_part_revision"),
    )
    op.create_table(
        "interface",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("port", sa.Text(), nullable=False),
        sa.Column("type", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("revision_id", "position", name="pk_interface"),
        sa.ForeignKeyConstraint(["revision_id"], ["part_revision.id"], name="fk_interface_revision_id_part_revision"),
    )
    op.create_table(
        "relation",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("part", sa.Text()),
        sa.Column("slot", sa.String(64)),
        sa.Column("rating", sa.String(64)),
        sa.Column("at_least", sa.Float()),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("revision_id", "position", name="pk_relation"),
        sa.ForeignKeyConstraint(["revision_id"], ["part_revision.id"], name="fk_relation_revision_id_part_revision"),
    )
    op.create_table(
        "document_revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("type", sa.String(16), nullable=False),
        sa.Column("record_id", sa.String(64), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("content", sa.String(64), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("superseded_by", sa.Integer()),
        sa.PrimaryKeyConstraint("id", name="pk_document_revision"),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name="fk_document_revision_load_id_load"),
        sa.ForeignKeyConstraint(
            ["superseded_by"], ["document_revision.id"], name="fk_document_revision_superseded_by_document_revision"
        ),
    )
    op.create_index("ix_document_revision_record", "document_revision", ["type", "record_id", "superseded_by"])


def downgrade() -> None:
    """Drop the tables."""
    for name in (
        "document_revision",
        "relation",
        "interface",
        "rating",
        "part_fit",
        "part_revision",
        "sheet_row",
        "load",
    ):
        op.drop_table(name)
