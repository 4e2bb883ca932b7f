"""What questions about the whole book need: what parts have in common, who names whom, which numbers are in doubt.

All of it follows from the records and is filled in for those that are there.
"""

import json
from collections import defaultdict
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

AT_ONCE = 5000  # rows that are written together


def upgrade() -> None:
    """Create the tables, columns and indexes, and fill them."""
    op.create_table(
        "fitment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(64), nullable=False),
        sa.Column("codes", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_fitment"),
    )
    op.create_index("ix_fitment_kind", "fitment", ["kind"])
    op.create_table(
        "outline",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(64), nullable=False),
        sa.Column("fits", sa.Boolean(), nullable=False),
        sa.Column("stated", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_outline"),
    )
    op.create_table(
        "mention",
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("number", "revision_id", name="pk_mention"),
        sa.ForeignKeyConstraint(["revision_id"], ["part_revision.id"], name="fk_mention_revision_id_part_revision"),
    )
    op.create_table(
        "doubt",
        sa.Column("topic", sa.String(16), nullable=False),
        sa.Column("number", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("topic", "number", name="pk_doubt"),
    )
    with op.batch_alter_table("part_revision") as batch:
        batch.add_column(sa.Column("fitment_id", sa.Integer()))
        batch.add_column(sa.Column("outline_id", sa.Integer()))
        batch.create_foreign_key("fk_part_revision_fitment_id_fitment", "fitment", ["fitment_id"], ["id"])
        batch.create_foreign_key("fk_part_revision_outline_id_outline", "outline", ["outline_id"], ["id"])
    _fill(op.get_bind())
    for column in ("fitment", "outline"):
        names = ["superseded_by", f"{column}_id", "part_id"]
        op.create_index(f"ix_part_revision_{column}", "part_revision", names)
    _partial("ix_relation_slot", "relation", ["slot", "rating", "at_least"], "slot IS NOT NULL")
    _partial("ix_sheet_row_held", "sheet_row", ["load_id"], "outcome = 'held'")
    op.create_index("ix_rating_value", "rating", ["name", "value", "revision_id"])


def _partial(name: str, table: str, columns: list[str], where: str) -> None:
    op.create_index(name, table, columns, sqlite_where=sa.text(where), postgresql_where=sa.text(where))


def _fill(connection: sa.Connection) -> None:
    """Write down for every revision what it has in common with others and whom it names.

    Every number that is named, and every part that requires or supersedes another, is in doubt for now: one too many
    costs a look, and the next load that says something of the kind puts it right.
    """
    codes, stated = defaultdict(list), defaultdict(list)
    named: dict[int, set[str]] = defaultdict(set)
    for number, code in connection.execute(sa.text("SELECT revision_id, code FROM part_fit ORDER BY 1, position")):
        codes[number].append(code)
    query = "SELECT revision_id, name, meaning, conditions FROM rating ORDER BY 1, position"
    for number, name, meaning, conditions in connection.execute(sa.text(query)):
        found = json.loads(conditions) if isinstance(conditions, str) else conditions
        known = [c["name"] for c in found if c["value"] is not None]
        stated[number].append({"name": name, "meaning": meaning, "conditions": known})
    leading, unclear = set(), set()
    query = "SELECT revision_id, kind, part, slot IS NULL OR rating IS NULL OR at_least IS NULL FROM relation"
    for number, kind, part, open_ended in connection.execute(sa.text(query)):
        parts = [n.strip() for n in (part or "").split("|") if n.strip()]
        named[number].update(parts)
        if kind == "requires" and not parts and open_ended:
            unclear.add(number)
        if kind in ("requires", "supersedes"):
            leading.add(number)
    fitments: dict[str, int] = {}
    outlines: dict[str, int] = {}
    changed, mentions, current, circling, vague = [], [], set(), set(), set()
    query = "SELECT id, kind, part_id, superseded_by FROM part_revision ORDER BY id"
    for number, kind, part, replaced in connection.execute(sa.text(query)).all():
        fits = json.dumps([kind, codes[number]])
        says = json.dumps([kind, bool(codes[number]), stated[number]])
        fitment = fitments.setdefault(fits, len(fitments) + 1)
        outline = outlines.setdefault(says, len(outlines) + 1)
        changed.append({"number": number, "fitment": fitment, "outline": outline})
        mentions += [{"number": name, "revision_id": number} for name in sorted(named[number])]
        if replaced is None:
            current.add(part)
            if number in leading:
                circling.add(part)
            if number in unclear:
                vague.add(part)
    doubts = [{"topic": "circle", "number": part} for part in sorted(circling)]
    doubts += [{"topic": "vague", "number": part} for part in sorted(vague)]
    doubts += [{"topic": "unknown", "number": n} for n in sorted({m["number"] for m in mentions} - current)]
    rows = {
        "fitment": [{"id": i, "kind": k[0], "codes": k[1]} for k, i in _read(fitments)],
        "outline": [{"id": i, "kind": k[0], "fits": k[1], "stated": k[2]} for k, i in _read(outlines)],
        "mention": mentions,
        "doubt": doubts,
    }
    for name, values in rows.items():
        types = {"codes": sa.JSON, "stated": sa.JSON, "fits": sa.Boolean}
        table = sa.table(name, *(sa.column(c, types.get(c)) for c in (values[0] if values else ())))
        for start in range(0, len(values), AT_ONCE):
            connection.execute(sa.insert(table), values[start : start + AT_ONCE])
    update = sa.text("UPDATE part_revision SET fitment_id = :fitment, outline_id = :outline WHERE id = :number")
    for start in range(0, len(changed), AT_ONCE):
        connection.execute(update, changed[start : start + AT_ONCE])


def _read(numbered: dict[str, int]) -> list[tuple[list[Any], int]]:
    return [(json.loads(key), number) for key, number in numbered.items()]


def downgrade() -> None:
    """Take all of it away."""
    op.drop_index("ix_rating_value", "rating")
    op.drop_index("ix_sheet_row_held", "sheet_row")
    op.drop_index("ix_relation_slot", "relation")
    with op.batch_alter_table("part_revision") as batch:
        for column in ("outline", "fitment"):
            batch.drop_index(f"ix_part_revision_{column}")
            batch.drop_constraint(f"fk_part_revision_{column}_id_{column}", type_="foreignkey")
            batch.drop_column(f"{column}_id")
    for name in ("doubt", "mention", "outline", "fitment"):
        op.drop_table(name)
