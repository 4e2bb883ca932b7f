"""Who may do what, and the audit trail: two tables in which nothing can be changed or taken away.

A step back leaves both tables where they are: an older program does not know them, and the trail outlives it.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

KEPT = ("role_grant", "audit")
_FUNCTION = """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'table % is append only', TG_TABLE_NAME; END $$
"""


def upgrade() -> None:
    """Create the tables and what guards them, unless an earlier step back left them."""
    if "audit" in sa.inspect(op.get_bind()).get_table_names():
        return
    op.create_table(
        "role_grant",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person", sa.String(255), nullable=False),
        sa.Column("roles", sa.JSON(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_role_grant"),
    )
    op.create_index("ix_role_grant_person", "role_grant", ["person"])
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("what", sa.String(64), nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("load_id", sa.Integer()),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.Column("previous", sa.String(64), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_audit"),
    )
    op.create_index("ix_audit_load_id", "audit", ["load_id"])
    on_server = op.get_bind().dialect.name == "postgresql"
    if on_server:
        op.execute(_FUNCTION)
    for table in KEPT:
        for statement in _on_server(table) if on_server else _in_file(table):
            op.execute(statement)


def _on_server(table: str) -> tuple[str, ...]:
    return (
        f"CREATE TRIGGER {table}_rows BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION refuse_change()",
        f"CREATE TRIGGER {table}_all BEFORE TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()",
    )


def _in_file(table: str) -> tuple[str, ...]:
    """Guards of a SQLite table; an INSERT OR REPLACE fires no delete trigger, so a known id is refused too."""
    refused = f"BEGIN SELECT RAISE(ABORT, 'table {table} is append only'); END"
    known = f"WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id)"
    return (
        f"CREATE TRIGGER {table}_update BEFORE UPDATE ON {table} {refused}",
        f"CREATE TRIGGER {table}_delete BEFORE DELETE ON {table} {refused}",
        f"CREATE TRIGGER {table}_insert BEFORE INSERT ON {table} {known} {refused}",
    )


def downgrade() -> None:
    """Leave the trail and the grants to the next step forward."""
