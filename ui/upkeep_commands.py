"""Commands for whoever looks after the database: schema, copies, and what the program is made of."""

from __future__ import annotations

from pathlib import Path

import click


def register(main: click.Group) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    from ui.cli import EPILOG, _shared

    for name, command in (("migrate", migrate), ("backup", backup), ("recover", recover), ("licences", licences)):
        main.command(name, epilog=EPILOG)(_shared(command))


@click.pass_context
def migrate(context: click.Context, url: str | None, as_json: bool) -> None:
    """Bring the database to the schema of this program."""
    from graph.store import migrate as bring
    from ui.cli import _foreseen, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        before, after = bring(given)
    if wants_json:
        _print({"schema": "pinchpoint.migrate/1", "before": before, "after": after})
    else:
        click.echo(f"schema {before or 'none'} -> {after}")


@click.argument("file", type=click.Path(path_type=Path))
@click.pass_context
def backup(context: click.Context, file: Path, url: str | None, as_json: bool) -> None:
    """Copy the database to a new file while it is in use, and check the copy."""
    from graph.store import backup as copy
    from ui.cli import _foreseen, _open, _print, _settings
    from ui.local_user import local_user

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        copy(_open(given), file, who=local_user())
    if wants_json:
        _print({"schema": "pinchpoint.backup/1", "file": str(file)})
    else:
        click.echo(f"copied to {file}, checked")


@click.argument("file", type=click.Path(path_type=Path))
@click.option("--check", "only_check", is_flag=True, help="Check the copy and change nothing.")
@click.pass_context
def recover(context: click.Context, file: Path, only_check: bool, url: str | None, as_json: bool) -> None:
    """Bring the whole database back to a copy made with 'backup'; what stands there now is kept beside it."""
    from graph.store import check_copy
    from graph.store import recover as bring_back
    from ui.cli import _foreseen, _print, _settings
    from ui.local_user import local_actor, local_user

    given, wants_json = _settings(context, url, as_json)
    kept: Path | None = None
    with _foreseen():
        found = check_copy(file)
        if not only_check:
            kept = bring_back(given, file, who=local_user(), place=local_actor("command line").place)
    if wants_json:
        document = {"file": str(file), "copy_schema": found, "recovered": not only_check}
        _print({"schema": "pinchpoint.recover/1", **document, "kept": None if kept is None else str(kept)})
    elif only_check:
        click.echo(f"{file} is a sound copy, schema {found}")
    else:
        click.echo(f"the database stands as in {file}" + (f"; what stood there is in {kept}" if kept else ""))


@click.pass_context
def licences(context: click.Context, url: str | None, as_json: bool) -> None:
    """List every library that the program runs on, with its version and licence."""
    from ui.cli import _print, _settings
    from ui.dependency import dependencies

    _, wants_json = _settings(context, url, as_json)
    found = dependencies()
    if wants_json:
        listed = [{"name": d.name, "version": d.version, "licence": d.licence, "needed_by": d.needed_by} for d in found]
        _print({"schema": "pinchpoint.licences/1", "libraries": listed})
        return
    for library in found:
        click.echo(f"{library.name:28} {library.version:16} {library.licence:44} for {library.needed_by}")
