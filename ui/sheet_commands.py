"""Commands about sheets: blank ones, what was loaded, what changed between two loads, an earlier revision back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Mapping

    from graph.store import PartChange, Revision
    from ingest.mapping import Taken


def register(main: click.Group) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    from ui.cli import EPILOG, _shared

    commands = (
        ("template", template),
        ("mapping", mapping),
        ("loads", loads),
        ("difference", difference),
        ("revisions", revisions),
        ("restore", restore),
    )
    for name, command in commands:
        main.command(name, epilog=EPILOG)(_shared(command))


@click.argument("kind")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="New workbook (XLSX).")
@click.pass_context
def template(context: click.Context, kind: str, out: Path, url: str | None, as_json: bool) -> None:
    """Write a blank sheet for parts of one kind, such as 'tank pump'."""
    from ingest.template import write_template
    from ui.cli import _foreseen, _print, _settings

    _, wants_json = _settings(context, url, as_json)
    with _foreseen():
        write_template(kind, out)
    if wants_json:
        _print({"schema": "pinchpoint.template/1", "file": str(out)})
    else:
        click.echo(f"{out}: fill in the sheet 'Parts' and load it with: pinchpoint load {out}")


@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--words", type=click.Path(path_type=Path), help="The shop's own list of words (TOML).")
@click.pass_context
def mapping(
    context: click.Context, paths: tuple[Path, ...], words: Path | None, url: str | None, as_json: bool
) -> None:
    """Show which column of a sheet would be taken for what; nothing is loaded."""
    from ingest.book import read_book
    from ingest.mapping import changes, last_mapping, mapping_of, remembered
    from ui.cli import _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        book = read_book(paths, words=words)
        loads = view.loads()
    files = []
    for source in book.sources:
        taken = mapping_of(book.headers.get(source.name, ()))
        before = last_mapping(loads, source.name)
        files.append((source.name, taken, before, () if before is None else changes(before, remembered(taken))))
    if wants_json:
        _print({"schema": "pinchpoint.mapping/1", "files": [_mapping_document(*file) for file in files]})
        return
    for name, taken, before, differs in files:
        state = (
            "not loaded before" if before is None else "as loaded last" if not differs else "differs from the last load"
        )
        click.echo(f"{name}: {state}")
        for one in taken:
            click.echo(f"  {one.place:16} {one.head:24} {one.meaning}")
        for sentence in differs:
            click.echo(f"  ! {sentence}")


def _mapping_document(
    name: str, taken: tuple[Taken, ...], before: Mapping[str, str] | None, differs: tuple[str, ...]
) -> dict[str, Any]:
    columns = [
        {
            "sheet": t.sheet,
            "cell": t.cell,
            "head": t.head,
            "table": t.table,
            "field": t.field or None,
            "unit": t.unit or None,
        }
        for t in taken
    ]
    return {"file": name, "known": before is not None, "columns": columns, "differs": list(differs)}


@click.pass_context
def loads(context: click.Context, url: str | None, as_json: bool) -> None:
    """List every file that was loaded, oldest first."""
    from ui.cli import _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        found = view.loads()
    if wants_json:
        _print({"schema": "pinchpoint.loads/1", "loads": [_load_document(row) for row in found]})
        return
    if not found:
        click.echo("Nothing was loaded yet. Load the shop's sheets with: pinchpoint load FOLDER")
    for row in found:
        click.echo(f"{row['id']:>5}  {row['at']:%Y-%m-%d %H:%M}  {row['who']:12}  {row['name']}")


@click.argument("first", type=int)
@click.argument("second", type=int)
@click.pass_context
def difference(context: click.Context, /, first: int, second: int, url: str | None, as_json: bool) -> None:
    """Parts that stood differently after two loads; their numbers are those of 'pinchpoint loads'."""
    from graph.store import difference as compare
    from ui.cli import _foreseen, _open, _print, _settings
    from ui.rating_text import rating_text

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        changes = compare(view, first, second, rating_text)
    if wants_json:
        document = [_change_document(change) for change in changes]
        _print({"schema": "pinchpoint.difference/1", "first": first, "second": second, "parts": document})
        return
    if not changes:
        click.echo(f"No part differs between load {first} and load {second}.")
    for change in changes:
        _show_change(change)


def _show_change(change: PartChange) -> None:
    part = change.after or change.before
    what = "new" if change.before is None else "not there yet" if change.after is None else "changed"
    name = part.name if part is not None else ""
    click.echo(f"{change.part} ({name}): {what}, load {change.load} by {change.who}, {change.at:%Y-%m-%d %H:%M}")
    for field in change.fields:
        click.echo(f"    {field.field}: {field.before or 'nothing'} -> {field.after or 'nothing'}")
    if change.cars:
        click.echo(f"    on record in: {', '.join(change.cars)}")


@click.argument("part")
@click.pass_context
def revisions(context: click.Context, part: str, url: str | None, as_json: bool) -> None:
    """List every revision of a part, oldest first; the last one is in use."""
    from graph.store import revisions as history
    from ui.cli import _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        found = history(view, part)
    if wants_json:
        _print({"schema": "pinchpoint.revisions/1", "part": part, "revisions": [_revision(r) for r in found]})
        return
    for revision in found:
        click.echo(
            f"{revision.number:>3}  {revision.at:%Y-%m-%d %H:%M}  {revision.who:12}  load {revision.load}: {revision.name}"
        )


@click.argument("part")
@click.argument("revision", type=int)
@click.pass_context
def restore(context: click.Context, part: str, revision: int, url: str | None, as_json: bool) -> None:
    """Make an earlier revision of a part the current one; nothing is deleted."""
    from graph.store import restore as bring_back
    from ui.cli import _foreseen, _open, _print, _settings, version
    from ui.local_user import local_user

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).write() as unit:
        load = bring_back(unit, part, revision, who=local_user(), tool_version=version())
    if wants_json:
        _print({"schema": "pinchpoint.restore/1", "part": part, "revision": revision, "load": load})
    else:
        click.echo(f"{part} stands again as in revision {revision}, recorded as load {load}")


def _load_document(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "load": row["id"],
        "file": row["name"],
        "sha256": row["sha256"],
        "who": row["who"],
        "at": row["at"].isoformat(),
        "version": row["tool_version"],
    }


def _change_document(change: PartChange) -> dict[str, Any]:
    return {
        "part": change.part,
        "what": "new" if change.before is None else "not there yet" if change.after is None else "changed",
        "fields": [{"field": f.field, "before": f.before, "after": f.after} for f in change.fields],
        "load": change.load,
        "who": change.who,
        "at": change.at.isoformat(),
        "cars": list(change.cars),
    }


def _revision(revision: Revision) -> dict[str, Any]:
    return {
        "revision": revision.number,
        "load": revision.load,
        "file": revision.name,
        "who": revision.who,
        "at": revision.at.isoformat(),
    }
