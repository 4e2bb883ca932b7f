"""Exchange of whole books: RDF files and sheets out, RDF files in.

A file from elsewhere is never allowed to fetch anything: JSON-LD that names a context by its address is refused.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from rdflib import Graph

from graph.errors import UsageError
from graph.projection.facts import Facts
from graph.projection.rdf import describe
from graph.projection.reading import Records, Trouble, read_records
from graph.projection.shapes import shapes
from graph.projection.turtle import turtle
from graph.store import Database, View, refuse_undoing
from ingest.memory import uncollected
from ingest.parts_sheet import write_text, write_workbook

#: Format -> what rdflib calls it; the other formats are sheets.
GRAPHS = {"ttl": "turtle", "jsonld": "json-ld"}
#: Largest RDF file that is read [bytes].
LARGEST_GRAPH = 32 << 20
FORMATS = (*GRAPHS, "xlsx", "csv", "shacl")


@uncollected()
def write_book(facts: Facts, form: str, path: Path) -> tuple[Path, ...]:
    """Write a book into a file.

    Parameters
    ----------
    facts : Facts
        Current records.
    form : str
        ``ttl`` or ``jsonld`` for everything, ``xlsx`` or ``csv`` for the parts, ``shacl`` for the shapes of a book.
    path : Path
        Is replaced where it exists.

    Returns
    -------
    tuple of Path
        The file, and for CSV its description.

    Raises
    ------
    UsageError
        No such format, or the file cannot be written.
    """
    try:
        if form in GRAPHS:
            graph = describe(facts)
            text = turtle(graph) if form == "ttl" else graph.serialize(format=GRAPHS[form])
            path.write_text(text, encoding="utf-8")
            return (path,)
        if form == "shacl":
            path.write_text(shapes().serialize(format="turtle"), encoding="utf-8")
            return (path,)
        if form == "xlsx":
            write_workbook(facts.parts, path)
            return (path,)
        if form == "csv":
            return path, write_text(facts.parts, path)
    except OSError as error:
        raise UsageError(f"{path} cannot be written ({error.strerror}); name a file in a folder that exists") from None
    raise UsageError(f"no format is called {form!r}; known: {', '.join(FORMATS)}")


def read_graph(path: Path) -> Graph:
    """Read an RDF file without fetching anything that it names.

    Parameters
    ----------
    path : Path
        A ``.ttl`` or ``.jsonld`` file.

    Returns
    -------
    rdflib.Graph
        What it says.

    Raises
    ------
    UsageError
        The file is missing, of another kind, damaged, or asks for something to be fetched.
    """
    form = GRAPHS.get(path.suffix.lower().lstrip("."))
    if form is None:
        raise UsageError(f"{path.name} is no RDF file by its name; known: {', '.join(f'.{g}' for g in GRAPHS)}")
    try:
        if path.stat().st_size > LARGEST_GRAPH:
            raise UsageError(
                f"{path.name} has more than the {LARGEST_GRAPH >> 20} MB that are read; export it in parts"
            )
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise UsageError(f"{path} cannot be read ({error.strerror}); check the name") from None
    except UnicodeDecodeError:
        raise UsageError(f"{path.name} is no UTF-8 text; save it as UTF-8") from None
    try:
        if form == "json-ld":
            fetched = next(_addresses(json.loads(text)), None)
            if fetched is not None:
                raise UsageError(
                    f"{path.name} asks for {fetched!r} to be fetched, which is not done; write the context into the file"
                )
        return Graph().parse(data=text, format=form)
    except UsageError:
        raise
    except Exception as error:  # the parsers raise of many kinds, some of them plain Exception
        said = " ".join(str(error).split())[:200] or type(error).__name__
        raise UsageError(f"{path.name} cannot be read as {form}: {said}; export it once more") from None


def _addresses(value: Any) -> Iterator[str]:
    """What a JSON-LD document would have fetched: contexts that are named by their address."""
    if isinstance(value, dict):
        for key, member in value.items():
            if key in ("@context", "@import"):
                named = member if isinstance(member, list) else [member]
                yield from (n for n in named if isinstance(n, str))
            yield from _addresses(member)
    elif isinstance(value, list):
        for member in value:
            yield from _addresses(member)


def read_book_graph(path: Path, known: View | None = None) -> Records:
    """Read the records of an RDF file.

    Parameters
    ----------
    path : Path
        A ``.ttl`` or ``.jsonld`` file.
    known : View or None
        What is in the database already.

    Returns
    -------
    Records
        What can be taken, and what was left out.

    Raises
    ------
    UsageError
        The file cannot be read, or holds no book.
    """
    records = read_records(read_graph(path))
    if not (records.parts or records.platforms or records.cars or records.troubles):
        raise UsageError(f"{path.name} holds no parts, platforms or cars of this program; export a book with it")
    platforms = {p.id for p in records.platforms} | {p.id for p in (() if known is None else known.platforms())}
    homeless = [c for c in records.cars if c.platform not in platforms]
    troubles = [
        Trouble(name=c.id, why=f"left out: its platform {c.platform} is neither in the file nor in the book")
        for c in homeless
    ]
    cars = tuple(c for c in records.cars if c not in homeless)
    return replace(records, cars=cars, troubles=(*records.troubles, *troubles))


def store_records(
    database: Database, records: Records, path: Path, *, who: str, version: str, replace_corrections: bool = False
) -> None:
    """Write records into the database, all of them or nothing; the evidence keeps naming the sheets it came from.

    Parameters
    ----------
    database : Database
        Open for writing.
    records : Records
        As read.
    path : Path
        The file that they came from.
    who : str
        Who imports it.
    version : str
        Of the program.
    replace_corrections : bool
        True to let the file overwrite what was corrected by hand.

    Raises
    ------
    Conflict
        A part was corrected by hand and the file says otherwise; nothing is stored.
    """
    with database.write() as unit:
        if not replace_corrections:
            refuse_undoing(unit, records.parts)
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        load = unit.record_load(name=path.name, sha256=digest, who=who, tool_version=version)
        unit.add_parts(load, records.parts)
        unit.add_platforms(load, records.platforms)
        unit.add_cars(load, records.cars)
