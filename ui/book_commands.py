"""Commands on the book as a whole: questions, export, import."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.projection.answer import Answer
    from graph.quantity import Quantity

WIDEST = 44
#: Rows that are shown to people unless they ask for all.
SHOWN_AT_ONCE = 100
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
        main.command(name, epilog=EPILOG)(_shared(command))


@click.argument("question", required=False)
@click.argument("arguments", nargs=-1)
@click.option("--seconds", type=float, default=20.0, show_default=True, help="Longest time for a SPARQL query.")
@click.option("--all", "every", is_flag=True, help=f"Every row; else the first {SHOWN_AT_ONCE} and how many there are.")
@click.pass_context
def ask(
    context: click.Context,
    question: str | None,
    arguments: tuple[str, ...],
    seconds: float,
    every: bool,
    url: str | None,
    as_json: bool,
) -> None:
    """Ask the book a question with a name, or one in SPARQL from a file FILE.rq; without a name, list the names.

    With --json every row is printed.
    """
    from graph.projection.facts import gather
    from ui.cli import _foreseen, _open, _print, _settings
    from ui.question import QUERY, ask_named, ask_own, check_arguments

    given, wants_json = _settings(context, url, as_json)
    first = None if every or wants_json else SHOWN_AT_ONCE
    with _foreseen():
        if question is None:
            _list_questions(wants_json)
            return
        check_arguments(question, arguments)
        own = _text_of(Path(question)) if question.lower().endswith(QUERY) else None
        with _open(given).read() as view:
            if own is None:
                answer, quantity = ask_named(view, question, arguments, first)
            else:
                answer, quantity = ask_own(gather(view), own, seconds).begun(first), None
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
        "count": answer.count,
        "rows": [dict(zip(names, row, strict=True)) for row in answer.rows],
    }
    if answer.turtle is not None:
        document["turtle"] = answer.turtle
    return document


def _show(answer: Answer, quantity: Quantity | None) -> None:
    """Rows for people; the evidence under each row."""
    from ui.question import said

    if not answer.rows:
        click.echo("Nothing in the book answers this.")
        return
    last = len(answer.columns) - 1 if answer.columns[-1] == "evidence" else len(answer.columns)
    heads = [re.sub(r" \[.*", "", c) if c.startswith("value [") else c for c in answer.columns[:last]]
    texts = [[said(v, c, quantity) for v, c in zip(row[:last], answer.columns, strict=False)] for row in answer.rows]
    widths = [min(WIDEST, max(len(head), *(len(t[i]) for t in texts))) for i, head in enumerate(heads)]
    click.echo("  ".join(head.ljust(width) for head, width in zip(heads, widths, strict=True)).rstrip())
    for row, text in zip(answer.rows, texts, strict=True):
        click.echo("  ".join(t.ljust(width) for t, width in zip(text, widths, strict=True)).rstrip())
        if last < len(row) and row[last]:
            click.echo(f"    {row[last]}")
    if answer.left:
        click.echo(f"{len(answer.rows)} of {answer.count} rows; --all prints every one.")


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
    """Write the book into a file for another program, another shop or a spreadsheet.

    As ttl or jsonld it holds the current parts, platforms and cars with what was seen of them. Earlier revisions, what
    pulls taught, notes, roles and the trail stay behind; 'pinchpoint backup' takes everything.
    """
    from graph.projection.facts import gather
    from ingest.exchange import write_book
    from ui.cli import _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        with _open(given).read() as view:
            facts, behind = gather(view), view.stays_behind()
        files = write_book(facts, form.lower(), out)
    whole = form.lower() in ("ttl", "jsonld")
    shaped = form.lower() == "shacl"
    counts = {
        "parts": len(facts.parts) * (not shaped),
        "platforms": len(facts.platforms) * whole,
        "cars": len(facts.cars) * whole,
    }
    if wants_json:
        written = {"format": form.lower(), "files": [str(f) for f in files], **counts}
        _print({"schema": "pinchpoint.export/1", **written, "stays_behind": dict(behind) if whole else {}})
    else:
        click.echo(f"{'shapes' if shaped else _counted(counts)} in {', '.join(map(str, files))}")
    if whole and behind:
        left = ", ".join(f"{count} {what}" for what, count in behind.items())
        click.echo(f"stays behind: {left}; a check elsewhere knows nothing of it", err=True)


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
