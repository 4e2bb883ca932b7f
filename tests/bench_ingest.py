"""How long a large parts book takes: read, checked and stored, beside the bare reading of the same file in the same run.

Not a test. Usage: ``.venv/bin/python tests/bench_ingest.py [rows] [--profile]``; the default is 100 000 rows. Every row
states one rating, half of them begin a part, and one row in a thousand has a defect, as in a book that is in use.
"""

from __future__ import annotations

import argparse
import cProfile
import csv
import pstats
import resource
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from python_calamine import CalamineWorkbook

from graph.store import Database, open_database
from ingest.book import Book, read_book, store_book
from ingest.table import read_workbook

HEAD = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Condition", "Evidence", "Date", "± %",
        "Price net EUR", "Labour h", "Lead days", "Stock")  # fmt: skip


def rows(count: int) -> Iterator[list[Any]]:
    """Rows of a parts book: pumps with a flow and a current."""
    for index in range(count // 2):
        number = f"PY-{100000 + index}"
        flow = "tbc" if index % 500 == 499 else round(100.0 + index % 300 + 0.5, 1)
        yield [number, f"tank pump {index}", "tank pump", "HM20-D4", "flow", flow, "L/h",
               "pressure 5.5 bar; voltage 13.5 V; temperature 20 °C; fluid petrol", "own bench", "2026-01-15", 4,
               188.5 + index % 90, 2, 4, index % 7]  # fmt: skip
        yield [number, "", "", "", "current", 9 + index % 12, "A", "", "own bench", "2026-01-15", 5, "", "", "", ""]


def write_files(folder: Path, count: int) -> tuple[Path, Path]:
    """The same rows as CSV and XLSX."""
    text, workbook = folder / "large.csv", folder / "large.xlsx"
    with text.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, delimiter=";")
        writer.writerow(HEAD)
        writer.writerows(rows(count))
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Parts")
    sheet.append(HEAD)
    for row in rows(count):
        sheet.append([None if value == "" else value for value in row])
    book.save(workbook)
    return text, workbook


def timed(what: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds and result."""
    start = time.perf_counter()
    result = what()
    return time.perf_counter() - start, result


def usual(what: Callable[[], Any]) -> tuple[float, float]:
    """Seconds of a first run, which also starts the reader, and the middle of five more."""
    first, _ = timed(what)
    return first, statistics.median(timed(what)[0] for _ in range(5))


def bare(path: Path) -> dict[str, tuple[float, float]]:
    """Seconds of readers that only read: the first time, and as a rule."""
    if path.suffix == ".xlsx":
        return {"calamine": usual(lambda: CalamineWorkbook.from_path(str(path)).get_sheet_by_index(0).to_python())}
    found = {"csv": usual(lambda: list(csv.reader(path.open(newline="", encoding="utf-8"), delimiter=";")))}
    if find_spec("polars") is not None:
        import polars

        found["polars"] = usual(lambda: polars.read_csv(path, separator=";", infer_schema_length=0))
    return found


def bare_inserts(database: Database, folder: Path) -> float:
    """Seconds to put the stored rows into an empty database of the same schema, with nothing else to do."""
    empty = folder / "empty.sqlite"
    open_database(f"sqlite:///{empty}").engine.dispose()
    with sqlite3.connect(str(database.engine.url.database)) as full:
        tables = ("load", "sheet_row", "fitment", "outline", "part_revision", "part_fit", "rating")
        stored = {name: full.execute(f"SELECT * FROM {name}").fetchall() for name in tables}

    def insert() -> None:
        with sqlite3.connect(empty) as connection:
            for name, found in stored.items():
                connection.executemany(f"INSERT INTO {name} VALUES ({', '.join('?' * len(found[0]))})", found)

    seconds, _ = timed(insert)
    empty.unlink()
    return seconds


def measure(path: Path, folder: Path) -> None:
    """Print one line for each stage of one file."""
    beside = bare(path)
    table, _ = timed(lambda: read_workbook(path))
    checked, book = timed(lambda: read_book([path]))
    assert isinstance(book, Book)
    database = open_database(f"sqlite:///{folder}/{path.suffix[1:]}.sqlite")
    stored, _ = timed(lambda: store_book(database, book, who="bench", version="0"))
    (tally,) = book.tallies
    total = checked + stored
    print(f"{path.name}: {tally.rows} rows = {tally.loaded} loaded + {tally.held} held + {tally.not_data} not data,")
    print(f"  {len(book.parts)} parts, {len(book.problems)} defects")
    for name, (first, seconds) in beside.items():
        print(f"  bare {name:9} {seconds:7.3f} s, the first time {first:.3f} s")
    print(f"  as a table     {table:7.2f} s")
    print(f"  to records     {checked - table:7.2f} s, each cell read and checked, the book put together")
    print(
        f"  stored         {stored:7.2f} s, of which {bare_inserts(database, folder):.2f} s are bare inserts of the same rows"
    )
    ratios = ", ".join(
        f"{total / seconds:.0f} x bare {name} ({total / first:.0f} x its first time)"
        for name, (first, seconds) in beside.items()
    )
    print(f"  together       {total:7.2f} s = {total / tally.rows * 1e6:.0f} µs a row = {ratios}")


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rows", nargs="?", type=int, default=100_000)
    parser.add_argument("--profile", action="store_true", help="where the time of reading the CSV goes")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        text, workbook = write_files(folder, options.rows)
        if options.profile:
            profile = cProfile.Profile()
            profile.runcall(read_book, [text])
            pstats.Stats(profile, stream=sys.stdout).sort_stats("tottime").print_stats(25)
            return
        measure(text, folder)
        measure(workbook, folder)
    print(f"largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
