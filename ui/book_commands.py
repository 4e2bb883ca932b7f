"""Commands on the book as a whole: questions, export, import."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.limit import Kind, RatingSpec
    from graph.projection.answer import Answer, Cell
    from graph.projection.facts import Facts
    from graph.quantity import Quantity
    from graph.store import View

WIDEST = 44
#: Largest file of a query [bytes].
LARGEST_TEXT = 64 << 10


def register(main: click.Group) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    from ui.cli import EPILOG, _shared

    for name, command in (("ask", ask), ("export", export), ("import", import_)):
        if name not in main.commands:
            main.command(name, epilog=EPILOG)(_shared(command))


@click.argument("question", required=False)
@click.argument("arguments", nargs=-1)
@click.option("--seconds", type=float, default=20.0, show_default=True, help="Longest time for a SPARQL query.")
@click.pass_context
def ask(
    context: click.Context,
    question: str | None,
    arguments: tuple[str, ...],
    seconds: float,
    url: str | None,
    as_json: bool,
) -> None:
    """Ask the book a question with a name, or one in SPARQL from a file FILE.rq; without a name, list the names."""
    from ui.cli import _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        if question is None:
            _list_questions(wants_json)
            return
        with _open(given).read() as view:
            answer, quantity = _ask(view, question, arguments, seconds)
    if wants_json:
        _print(ask_document(answer))
    elif answer.turtle is not None:
        click.echo(answer.turtle, nl=False)
    else:
        _show(answer, quantity)


def _list_questions(wants_json: bool) -> None:
    from graph.projection.question import QUESTIONS
    from ui.cli import _print

    if wants_json:
        listed = [{"name": n, "arguments": list(q.arguments), "asks": q.asks} for n, q in QUESTIONS.items()]
        _print({"schema": "pinchpoint.questions/1", "questions": listed})
        return
    for name, about in QUESTIONS.items():
        click.echo(f"{' '.join((name, *about.arguments)):60} {about.asks}")
    click.echo("FILE.rq" + " " * 54 + "A question of your own in SPARQL: SELECT, ASK or CONSTRUCT.")


def _ask(view: View, name: str, arguments: tuple[str, ...], seconds: float) -> tuple[Answer, Quantity | None]:
    """Answer a question from a store: about one part or one place by a few look-ups, else from the whole book."""
    from graph.projection.facts import gather
    from graph.projection.nearby import ahead, behind, parts_for

    _check_arguments(name, arguments)
    if name == "fits-slot-and-carries":
        kind, spec, at_least = _wanted(*arguments[:2], *arguments[3:])
        facts = parts_for(view, kind, spec, at_least, arguments[2] if len(arguments) > 2 else None)
    elif name == "pulls-along":
        facts = ahead(view, arguments[0])
    elif name == "why-needed":
        facts = ahead(view, arguments[1], arguments[0])
    elif name == "breaks-if-withdrawn":
        facts = behind(view, arguments[0])
    else:
        facts = gather(view)
    return _answer(facts, name, arguments, seconds)


def _check_arguments(name: str, arguments: tuple[str, ...]) -> None:
    from graph.errors import UnknownName, UsageError
    from graph.projection.question import QUESTIONS

    if name.lower().endswith(".rq"):
        if arguments:
            raise UsageError(f"{name} takes no arguments; write what you look for into the query")
        return
    if name not in QUESTIONS:
        raise UnknownName("question", name, [*QUESTIONS, "FILE.rq"])
    expected = QUESTIONS[name].arguments
    least = sum(not a.startswith("[") for a in expected)
    if not least <= len(arguments) <= len(expected):
        wanted = " ".join((name, *expected))
        raise UsageError(f"found {len(arguments)} arguments, expected is: ask {wanted}")


def _answer(facts: Facts, name: str, arguments: tuple[str, ...], seconds: float) -> tuple[Answer, Quantity | None]:
    from graph.projection import question
    from graph.projection.rdf import describe
    from graph.projection.sparql import query

    _check_arguments(name, arguments)
    if name.lower().endswith(".rq"):
        return query(describe(facts), _text_of(Path(name)), seconds=seconds), None
    if name == "fits-slot-and-carries":
        return _carries(facts, *arguments)
    asked: dict[str, Callable[..., Answer]] = {
        "pulls-along": question.pulls_along,
        "why-needed": question.why_needed,
        "no-usable-rating": question.no_usable_rating,
        "breaks-if-withdrawn": question.breaks_if_withdrawn,
        "goes-in-circles": question.goes_in_circles,
        "hangs-in-the-air": question.hangs_in_the_air,
    }
    return asked[name](facts, *arguments), None


def _wanted(slot: str, amount: str, rating: str | None = None) -> tuple[Kind, RatingSpec, float]:
    from graph.projection.question import rated_by
    from graph.service import find_kind
    from ui.cli import _value

    kind = find_kind(slot)
    spec = rated_by(kind, rating)
    at_least = _value(amount, spec.quantity, "AMOUNT")
    assert at_least is not None
    return kind, spec, at_least


def _carries(
    facts: Facts, slot: str, amount: str, code: str | None = None, rating: str | None = None
) -> tuple[Answer, Quantity]:
    from graph.projection.question import fits_slot_and_carries

    kind, spec, at_least = _wanted(slot, amount, rating)
    return fits_slot_and_carries(facts, kind, at_least, code=code, rating=rating), spec.quantity


def _text_of(path: Path) -> str:
    from graph.errors import UsageError

    try:
        if not path.is_file() or path.stat().st_size > LARGEST_TEXT:
            raise UsageError(
                f"{path} cannot be read: it is no file of at most {LARGEST_TEXT >> 10} KB; a query is a page of text"
            )
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise UsageError(f"{path} cannot be read ({error.strerror}); check the name") from None
    except UnicodeDecodeError:
        raise UsageError(f"{path} is no UTF-8 text; save it as UTF-8") from None


def ask_document(answer: Answer) -> dict[str, Any]:
    """An answer as a document: one object for each row, units in the names of its fields."""
    names = [re.sub(r"[^A-Za-z0-9]+", "_", column).strip("_") for column in answer.columns]
    document: dict[str, Any] = {
        "schema": "pinchpoint.ask/1",
        "question": answer.question,
        "columns": names,
        "rows": [dict(zip(names, row, strict=True)) for row in answer.rows],
    }
    if answer.turtle is not None:
        document["turtle"] = answer.turtle
    return document


def _show(answer: Answer, quantity: Quantity | None) -> None:
    """Rows for people; the evidence under each row."""
    if not answer.rows:
        click.echo("Nothing in the book answers this.")
        return
    last = len(answer.columns) - 1 if answer.columns[-1] == "evidence" else len(answer.columns)
    heads = [re.sub(r" \[.*", "", c) if c.startswith("value [") else c for c in answer.columns[:last]]
    texts = [[_cell(v, c, quantity) for v, c in zip(row[:last], answer.columns, strict=False)] for row in answer.rows]
    widths = [min(WIDEST, max(len(head), *(len(t[i]) for t in texts))) for i, head in enumerate(heads)]
    click.echo("  ".join(head.ljust(width) for head, width in zip(heads, widths, strict=True)).rstrip())
    for row, text in zip(answer.rows, texts, strict=True):
        click.echo("  ".join(t.ljust(width) for t, width in zip(text, widths, strict=True)).rstrip())
        if last < len(row) and row[last]:
            click.echo(f"    {row[last]}")


def _cell(value: Cell, column: str, quantity: Quantity | None) -> str:
    from ui import format as form

    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if quantity is not None and column.startswith("value ["):
            return form.quantity(value, quantity)
        return f"{value:.6g}"
    return str(value)


def _counted(counts: dict[str, int]) -> str:
    return ", ".join(f"{n} {what if n != 1 else what[:-1]}" for what, n in counts.items() if n)


@click.option(
    "--format",
    "form",
    required=True,
    help="ttl or jsonld for everything, xlsx or csv for the parts, shacl for the shapes that a book must have.",
)
@click.option("--out", required=True, type=click.Path(path_type=Path), help="File to write; it is replaced.")
@click.pass_context
def export(context: click.Context, form: str, out: Path, url: str | None, as_json: bool) -> None:
    """Write the book into a file for another program, another shop or a spreadsheet."""
    from graph.projection.facts import gather
    from ingest.exchange import write_book
    from ui.cli import _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        with _open(given).read() as view:
            facts = gather(view)
        files = write_book(facts, form.lower(), out)
    whole = form.lower() in ("ttl", "jsonld")
    shaped = form.lower() == "shacl"
    counts = {
        "parts": len(facts.parts) * (not shaped),
        "platforms": len(facts.platforms) * whole,
        "cars": len(facts.cars) * whole,
    }
    if wants_json:
        _print({"schema": "pinchpoint.export/1", "format": form.lower(), "files": [str(f) for f in files], **counts})
    else:
        click.echo(f"{'shapes' if shaped else _counted(counts)} in {', '.join(map(str, files))}")


@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace-corrections", is_flag=True, help="Let the file overwrite ratings corrected by hand.")
@click.pass_context
def import_(context: click.Context, file: Path, replace_corrections: bool, url: str | None, as_json: bool) -> None:
    """Read a book that was exported (.ttl, .jsonld), or a sheet."""
    from ingest.exchange import GRAPHS, read_book_graph, store_records
    from ui.cli import DEFECTS, DONE, _foreseen, _open, _print, _settings, load, version
    from ui.local_user import local_user

    given, wants_json = _settings(context, url, as_json)
    if file.suffix.lower().lstrip(".") not in GRAPHS:
        context.invoke(
            load,
            paths=(file,),
            report=None,
            replace_corrections=replace_corrections,
            url=given,
            as_json=wants_json,
        )
        return
    with _foreseen():
        database = _open(given)
        with database.read() as view:
            records = read_book_graph(file, view)
        store_records(
            database, records, file, who=local_user(), version=version(), replace_corrections=replace_corrections
        )
    counts = {"parts": len(records.parts), "platforms": len(records.platforms), "cars": len(records.cars)}
    if wants_json:
        left = [{"name": t.name, "why": t.why} for t in records.troubles]
        _print({"schema": "pinchpoint.import/1", "file": str(file), **counts, "left_out": left})
    else:
        click.echo(f"{_counted(counts)}; {len(records.troubles)} left out")
    for trouble in records.troubles:
        click.echo(f"{file.name}: {trouble.name}: {trouble.why}", err=True)
    sys.exit(DEFECTS if records.troubles else DONE)
