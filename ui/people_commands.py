"""Commands about people: who may do what, and what was done."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.store import Entry

ROLES = ("look", "advise", "calibrate", "keep the book", "administer")


def register(main: click.Group) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    from ui.cli import EPILOG, _shared

    for name, command in (("people", people), ("grant", grant), ("audit", audit)):
        main.command(name, epilog=EPILOG)(_shared(command))


@click.pass_context
def people(context: click.Context, url: str | None, as_json: bool) -> None:
    """List who may do what through the pages, and what each role is for."""
    from graph.actor import MEANING, Role
    from graph.store import people as known
    from ui.cli import _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        found = known(view)
    if wants_json:
        listed = [{"person": n, "roles": [r.value for r in Role if r in roles]} for n, roles in found.items()]
        _print({"schema": "pinchpoint.people/1", "people": listed})
        return
    for name, roles in found.items():
        click.echo(f"{name:40} {', '.join(r.value for r in Role if r in roles)}")
    if not found:
        click.echo("Nobody yet. Let somebody in with: pinchpoint grant NAME@SHOP 'keep the book'")
    for role, meaning in MEANING.items():
        click.echo(f"  {role.value:14} {meaning}", err=True)


@click.argument("person")
@click.argument("roles", nargs=-1, type=click.Choice(ROLES))
@click.option("--seen", default="", help="Roles that the person has so far, as 'pinchpoint people' lists them.")
@click.pass_context
def grant(
    context: click.Context, person: str, roles: tuple[str, ...], seen: str, url: str | None, as_json: bool
) -> None:
    """Let a person (mail address) do what these roles allow, and nothing else; without a role, nothing.

    Somebody who has roles already gets others only from somebody who has seen them: grant ANNA advise --seen look.
    """
    from graph.actor import Role
    from graph.errors import UsageError
    from graph.store import grant as give
    from ui.cli import _foreseen, _open, _print, _settings, _split
    from ui.local_user import local_user

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        known = [word for word in _split(seen) if word != "nothing"]
        if not set(known) <= set(ROLES):
            raise UsageError(f"--seen: found {seen!r}; known are {', '.join(ROLES)}")
        with _open(given).write() as unit:
            meant = [Role(name) for name in roles]
            now = give(unit, person, meant, who=local_user(), seen=[Role(name) for name in known])
    held = [role.value for role in Role if role in now]
    if wants_json:
        _print({"schema": "pinchpoint.grant/1", "person": person.strip().lower(), "roles": held})
    else:
        click.echo(f"{person.strip().lower()} may now: {', '.join(held) or 'nothing'}")


@click.option("--about", help="Only what was done to this part, person or file.")
@click.option("--last", type=click.IntRange(1), default=40, show_default=True, help="So many of the newest entries.")
@click.option("--verify", is_flag=True, help="Check that no entry was changed or taken away behind the program's back.")
@click.pass_context
def audit(context: click.Context, about: str | None, last: int, verify: bool, url: str | None, as_json: bool) -> None:
    """Show what was done, by whom, when and from where; nothing of it can be changed with this program."""
    from graph.store import broken, trail
    from ui.cli import DONE, UNFORESEEN, _foreseen, _open, _print, _settings

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        found = trail(view, about=about, last=last)
        wrong = broken(view) if verify else None
    if wants_json:
        document: dict[str, Any] = {"schema": "pinchpoint.audit/1", "entries": [_document(entry) for entry in found]}
        _print({**document, "whole": wrong is None, "first_broken": wrong} if verify else document)
    else:
        for entry in found:
            click.echo(f"{entry.number:>6}  {entry.at:%Y-%m-%d %H:%M:%S}  {entry.who:20} {entry.what:18} {entry.about}")
            click.echo(f"        from {entry.place}{_changed(entry)}")
        if verify:
            end = f", last digest {found[-1].digest}" if found else ""
            click.echo(
                f"the trail is whole{end}" if wrong is None else f"entry {wrong} was changed, or one before it is gone"
            )
    sys.exit(UNFORESEEN if wrong is not None else DONE)


def _changed(entry: Entry) -> str:
    said = [
        f"{c['field']}: {c['before'] or 'nothing'} -> {c['after'] or 'nothing'}"
        for c in entry.detail.get("changes", ())
    ]
    return f": {'; '.join(said)}" if said else ""


def _document(entry: Entry) -> dict[str, Any]:
    return {
        "entry": entry.number,
        "at": entry.at.isoformat(),
        "who": entry.who,
        "from": entry.place,
        "what": entry.what,
        "about": entry.about,
        "load": entry.load,
        "detail": dict(entry.detail),
        "digest": entry.digest,
    }
