"""SQL is the truth: records in, records out, append only. Nothing else writes."""

from graph.store.database import Database, backup, migrate, open_database, schema_version
from graph.store.record import SheetRow
from graph.store.unit import Unit, View

__all__ = ["Database", "SheetRow", "Unit", "View", "backup", "migrate", "open_database", "schema_version"]
