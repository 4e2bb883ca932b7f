"""Commands that keep what was seen of a car: looks at its places, changes of the plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ui.identify_command import identify_command

if TYPE_CHECKING:
    from graph.model import Belief
    from graph.store import Database

BELIEFS = ("claimed", "seen", "label read", "measured", "unknown")


def register(main: click.Group) -> None:
    """Add the commands to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    for command in (_look_command(), _change_command(), identify_command()):
        main.add_command(command)


def photo_folder(url: str) -> Path:
    """Where photographs are kept: beside a SQLite file, else in the user's data folder.

    Parameters
    ----------
    url : str
        Address of the database.

    Returns
    -------
    Path
        The folder; it need not exist yet.
    """
    from platformdirs import user_data_path
    from sqlalchemy.engine import make_url

    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite" and parsed.database and not parsed.database.startswith((":", "file:")):
        return Path(parsed.database).expanduser().resolve().parent / "photographs"
    return user_data_path("pinchpoint") / "photographs"


def _look_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="look", epilog=EPILOG)
    @click.argument("car")
    @click.argument("slot")
    @click.option("--belief", type=click.Choice(BELIEFS), required=True, help="How well the part is known now.")
    @click.option("--part", help="Its number; 'factory' for the part that the platform leaves the factory with.")
    @click.option("--says", default="", help="What was said, or what its label says.")
    @click.option("--condition", default="", help="Its state: wear, damage, leaks.")
    @click.option("--instrument", default="", help="With what it was measured.")
    @click.option(
        "--photo", "photos", multiple=True, type=click.Path(path_type=Path), help="A picture; may be repeated."
    )
    @click.option("--fitted", is_flag=True, help="Fitted or refitted just now: earlier pulls say nothing of it.")
    @click.option("--by", default="", help="Who looked; you, where it is left out.")
    @_shared
    @click.pass_context
    def look(
        context: click.Context,
        /,
        car: str,
        slot: str,
        belief: str,
        part: str | None,
        photos: tuple[Path, ...],
        fitted: bool,
        url: str | None,
        as_json: bool,
        **said: str,
    ) -> None:
        """Record what was seen in one place of a car: part, belief, condition, photographs."""
        from graph.model import Belief
        from graph.note import Look
        from ingest.photo import keep_photo
        from ui.cli import _foreseen, _open, _print, _settings

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            database = _open(given)
            place, number = _place(database, car, slot, part, Belief(belief))
            kept = tuple(keep_photo(path, photo_folder(given)) for path in photos)
            seen = Look(
                car=car,
                slot=place,
                belief=Belief(belief),
                part=number,
                claim=said["says"],
                condition=said["condition"],
                instrument=said["instrument"],
                photos=kept,
                fitted=fitted,
                by=said["by"],
            )
            _keep(database, seen)
            with database.read() as view:
                looks = view.looks(car)
        if wants_json:
            from ui.record_document import look_document

            _print({"schema": "pinchpoint.look/1", "car": car, "looks": [look_document(x) for x in looks]})
            return
        newest = looks[-1]
        what = f", {newest.part}" if newest.part else ""
        click.echo(f"{car}, {place}: {belief}{what}, by {newest.by}, {newest.at}; {len(kept)} photographs kept")

    return look


def _keep(database: Database, note: object) -> None:
    from graph.note import Fact, Look, PlanChange
    from graph.store.notebook import add_notes
    from ui.cli import version
    from ui.local_user import local_user

    assert isinstance(note, Look | Fact | PlanChange)
    with database.write() as unit:
        add_notes(unit, [note], who=local_user(), tool_version=version())


def _place(database: Database, car: str, slot: str, part: str | None, belief: Belief) -> tuple[str, str | None]:
    """Name of the place and number of the part, as the book has them."""
    from graph.errors import UnknownName, UsageError
    from graph.model import Belief
    from graph.service import find_kind, find_record

    with database.read() as view:
        record = find_record("car", car, view.cars())
        platform = find_record("platform", record.platform, view.platforms())
        named = platform.slot(slot)
        if named is None:
            kind = find_kind(slot).name
            named = next((s for s in platform.slots if s.kind == kind), None)
        if named is None:
            raise UnknownName("place", slot, [s.name for s in platform.slots])
        number = named.factory_part if part is not None and part.strip().lower() == "factory" else part
        if number is None:
            if belief is Belief.SEEN and part is not None:
                raise UsageError(f"{named.name}: the platform leaves the factory without a part there")
            return named.name, None
        found = view.part(number)
        if found is None:
            raise UnknownName("part", number, [p.id for p in view.parts(kind=named.kind)])
        if found.kind != named.kind:
            raise UsageError(f"{number} ({found.name}) is no part for the place {named.name}")
    return named.name, number


def _change_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="change", epilog=EPILOG)
    @click.argument("car")
    @click.argument("slot")
    @click.option("--finding", required=True, help="What was found.")
    @click.option("--action", default="", help="What is done about it.")
    @click.option("--price", default="0", help="Net change of the price, such as '280' or '-90'.")
    @click.option("--agreed", is_flag=True, help="The customer has agreed.")
    @click.option("--fault", help="Key of the fault that it confirms; it goes into the shop's own counts.")
    @click.option("--by", default="", help="Who found it.")
    @_shared
    @click.pass_context
    def change(
        context: click.Context,
        /,
        car: str,
        slot: str,
        price: str,
        agreed: bool,
        fault: str | None,
        url: str | None,
        as_json: bool,
        **said: str,
    ) -> None:
        """Record what a finding does to the plan: finding, place, price; what was agreed and what was not."""
        from graph.errors import UnknownName
        from graph.model import Belief
        from graph.note import PlanChange
        from ui.arrival_commands import _knowledge
        from ui.cli import _foreseen, _open, _print, _settings
        from ui.record_document import change_document, change_lines

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            database = _open(given)
            place, _ = _place(database, car, slot, None, Belief.UNKNOWN)
            if fault is not None:
                known = [f.id for f in _knowledge(None).faults]
                if fault not in known:
                    raise UnknownName("fault", fault, known)
            _keep(
                database,
                PlanChange(
                    car=car,
                    slot=place,
                    finding=said["finding"],
                    action=said["action"],
                    price=_money(price),
                    agreed=agreed,
                    fault=fault,
                    by=said["by"],
                ),
            )
            with database.read() as view:
                changes = view.changes(car)
        if wants_json:
            _print(
                {
                    "schema": "pinchpoint.change/1",
                    "car": car,
                    "changes": [change_document(c) for c in changes],
                    "net_agreed": round(sum(c.price for c in changes if c.agreed), 2),
                    "net_open": round(sum(c.price for c in changes if not c.agreed), 2),
                }
            )
            return
        click.echo("\n".join(change_lines(changes)))

    return change


def _money(text: str) -> float:
    from graph.errors import UsageError
    from ingest.number import take_number
    from ingest.problem import UnreadableValue
    from ingest.spelling import normalise_text

    try:
        value, rest = take_number(normalise_text(text), "a net price")
    except UnreadableValue as error:
        raise UsageError(f"--price: {error}") from error
    if rest.strip().lower() not in ("", "eur", "€"):
        raise UsageError(f"--price: found {text!r}; expected is a net price in the shop's currency, such as 280")
    return value
