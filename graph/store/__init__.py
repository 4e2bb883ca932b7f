"""SQL is the truth: records in, records out, append only. Nothing else writes."""

from graph.store.database import Database, backup, migrate, open_database, schema_version
from graph.store.history import FieldChange, PartChange, Revision, difference, restore, revisions
from graph.store.record import SheetRow
from graph.store.unit import Unit, View

__all__ = [
    "Database",
    "FieldChange",
    "PartChange",
    "Revision",
    "SheetRow",
    "Unit",
    "View",
    "backup",
    "difference",
    "migrate",
    "open_database",
    "restore",
    "revisions",
    "schema_version",
]
