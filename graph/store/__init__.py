"""SQL is the truth: records in, records out, append only. Nothing else writes."""

from graph.store.amend import correct_rating, last_load, refuse_undoing
from graph.store.database import Database, migrate, open_database, schema_version
from graph.store.engine_note import Lesson, keep_lesson, withdraw_lesson
from graph.store.history import PartChange, Revision, difference, restore, revisions
from graph.store.people import grant, people
from graph.store.record import SheetRow
from graph.store.safekeeping import backup, check_copy, recover
from graph.store.statement import FieldChange
from graph.store.trail import Entry, broken, trail
from graph.store.unit import Unit
from graph.store.view import View

__all__ = [
    "Database",
    "Entry",
    "FieldChange",
    "Lesson",
    "PartChange",
    "Revision",
    "SheetRow",
    "Unit",
    "View",
    "backup",
    "broken",
    "check_copy",
    "correct_rating",
    "difference",
    "grant",
    "keep_lesson",
    "last_load",
    "migrate",
    "open_database",
    "people",
    "recover",
    "refuse_undoing",
    "restore",
    "revisions",
    "schema_version",
    "trail",
    "withdraw_lesson",
]
