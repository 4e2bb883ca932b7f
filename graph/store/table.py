"""The tables. Every fact hangs on the load and the sheet row it came from; a correction is a new revision."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    text,
)

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = MetaData(naming_convention=NAMING)


class UtcTime(TypeDecorator[datetime]):
    """A moment in UTC; SQLite forgets the zone, so it is put back on reading."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a moment without a zone and turn others into UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the zone back."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _partial(name: str, *columns: str, where: str) -> Index:
    """An index of some rows only, on both databases."""
    return Index(name, *columns, sqlite_where=text(where), postgresql_where=text(where))


load = Table(
    "load",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("who", Text, nullable=False),
    Column("at", UtcTime, nullable=False),
    Column("tool_version", Text, nullable=False),
    Column("mapping", JSON, nullable=False),
)
sheet_row = Table(
    "sheet_row",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("load_id", Integer, ForeignKey("load.id"), nullable=False, index=True),
    Column("file", Text, nullable=False),
    Column("sheet", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("cells", JSON, nullable=False),
    Column("outcome", String(16), nullable=False),
    Column("note", Text, nullable=False),
    CheckConstraint("outcome IN ('loaded', 'held', 'not data')", name="outcome"),
    _partial("ix_sheet_row_held", "load_id", where="outcome = 'held'"),
)
#: Codes that parts of one kind fit, once for all parts that fit the same. Only added to.
fitment = Table(
    "fitment",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(64), nullable=False, index=True),
    Column("codes", JSON, nullable=False),
)
#: What parts of one kind state, without the values, once for all parts that state the same. Only added to.
outline = Table(
    "outline",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(64), nullable=False),
    Column("fits", Boolean, nullable=False),
    Column("stated", JSON, nullable=False),
)
part_revision = Table(
    "part_revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("part_id", String(64), nullable=False),
    Column("load_id", Integer, ForeignKey("load.id"), nullable=False),
    Column("content", String(64), nullable=False),
    Column("kind", String(64), nullable=False),
    Column("name", Text, nullable=False),
    Column("maker", Text, nullable=False),
    Column("factory", Boolean, nullable=False),
    Column("price", Float),
    Column("labour", Float),
    Column("lead_time", Float),
    Column("stock", Integer),
    Column("tasks", JSON, nullable=False),
    Column("note", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("superseded_by", Integer, ForeignKey("part_revision.id")),
    Column("fitment_id", Integer, ForeignKey("fitment.id")),
    Column("outline_id", Integer, ForeignKey("outline.id")),
    Index("ix_part_revision_current", "superseded_by", "kind", "part_id"),
    Index("ix_part_revision_part_id", "part_id"),
    Index("ix_part_revision_fitment", "superseded_by", "fitment_id", "part_id"),
    Index("ix_part_revision_outline", "superseded_by", "outline_id", "part_id"),
)
part_fit = Table(
    "part_fit",
    metadata,
    Column("revision_id", Integer, ForeignKey("part_revision.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("code", String(64), nullable=False),
    Column("kind", String(64), nullable=False),
    Column("current", Boolean, nullable=False),
    Index("ix_part_fit_code", "code", "kind", "current", "revision_id"),
)
rating = Table(
    "rating",
    metadata,
    Column("revision_id", Integer, ForeignKey("part_revision.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("name", String(64), nullable=False),
    Column("value", Float),
    Column("curve", JSON),
    Column("spread", Float, nullable=False),
    Column("meaning", String(32), nullable=False),
    Column("conditions", JSON, nullable=False),
    Column("evidence_kind", String(32), nullable=False),
    Column("evidence_source", Text, nullable=False),
    Column("evidence_detail", Text, nullable=False),
    Column("evidence_date", String(10)),
    Column("evidence_by", Text),
    Column("text", Text, nullable=False),
    Column("row_id", Integer, ForeignKey("sheet_row.id"), index=True),
    Index("ix_rating_value", "name", "value", "revision_id"),
)
interface = Table(
    "interface",
    metadata,
    Column("revision_id", Integer, ForeignKey("part_revision.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("port", Text, nullable=False),
    Column("type", Text, nullable=False),
)
relation = Table(
    "relation",
    metadata,
    Column("revision_id", Integer, ForeignKey("part_revision.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("kind", String(32), nullable=False),
    Column("part", Text),
    Column("slot", String(64)),
    Column("rating", String(64)),
    Column("at_least", Float),
    Column("text", Text, nullable=False),
    _partial("ix_relation_slot", "slot", "rating", "at_least", where="slot IS NOT NULL"),
)
#: Part numbers that the statements of a revision name.
mention = Table(
    "mention",
    metadata,
    Column("number", Text, primary_key=True),
    Column("revision_id", Integer, ForeignKey("part_revision.id"), primary_key=True),
)
#: Part numbers that a question about the whole book has to look at. One that is here for nothing costs a look.
doubt = Table(
    "doubt",
    metadata,
    Column("topic", String(16), primary_key=True),
    Column("number", Text, primary_key=True),
)
document_revision = Table(
    "document_revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("type", String(16), nullable=False),
    Column("record_id", String(64), nullable=False),
    Column("load_id", Integer, ForeignKey("load.id"), nullable=False),
    Column("content", String(64), nullable=False),
    Column("body", JSON, nullable=False),
    Column("superseded_by", Integer, ForeignKey("document_revision.id")),
    Index("ix_document_revision_record", "type", "record_id", "superseded_by"),
)

#: What pulls showed of limits: evidence of its own beside the ratings of the sheets. Append only.
trial = Table(
    "trial",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("load_id", Integer, ForeignKey("load.id"), nullable=False),
    Column("car", String(64), nullable=False),
    Column("slot", String(64), nullable=False),
    Column("kind", String(64), nullable=False),
    Column("rating", String(64), nullable=False),
    Column("part", String(64)),
    Column("reached", Boolean, nullable=False),
    Column("demand", Float, nullable=False),
    Column("capacity", Float, nullable=False),
    Column("rated", Float, nullable=False),
    Column("spread", Float, nullable=False),
    Column("source", Text, nullable=False),
    Column("text", Text, nullable=False),
    Index("ix_trial_kind", "kind", "rating"),
)
#: What was noted of a car: looks, facts, findings. Append only.
car_note = Table(
    "car_note",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("load_id", Integer, ForeignKey("load.id"), nullable=False),
    Column("car", String(64), nullable=False),
    Column("topic", String(16), nullable=False),
    Column("body", JSON, nullable=False),
    Index("ix_car_note_car", "car", "topic"),
)

#: Who may do what: the newest row of a person holds. Append only.
role_grant = Table(
    "role_grant",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("person", String(255), nullable=False, index=True),
    Column("roles", JSON, nullable=False),
    Column("at", UtcTime, nullable=False),
    Column("by", Text, nullable=False),
)
#: What was done, by whom and from where. Append only; `load_id` is no key, so that an entry outlives everything.
audit = Table(
    "audit",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", UtcTime, nullable=False),
    Column("who", Text, nullable=False),
    Column("place", Text, nullable=False),
    Column("what", String(64), nullable=False),
    Column("about", Text, nullable=False),
    Column("load_id", Integer, index=True),
    Column("detail", JSON, nullable=False),
    Column("previous", String(64), nullable=False),
    Column("digest", String(64), nullable=False),
)
