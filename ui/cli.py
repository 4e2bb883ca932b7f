"""The command line: the same use cases as the pages, with exit codes for scripts."""

from __future__ import annotations

import importlib.metadata
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ui.door import Program

if TYPE_CHECKING:
    from graph.model import Part
    from graph.quantity import Quantity
    from graph.store import Database, View
    from ingest.book import Book

DONE, UNFORESEEN, USAGE, NOT_REACHED, DEFECTS = 0, 1, 2, 3, 4
EPILOG = (
    "Exit codes: 0 done; 1 unforeseen; 2 usage; 3 the target is not reachable or a limit is exceeded; "
    "4 the sheet or log has defects."
)
FEWEST_SHOWN = 40


def version() -> str:
    """Version of the installed program."""
    return importlib.metadata.version("pinchpoint")


def default_url() -> str:
    """Database in the user's data folder, or the one that PINCHPOINT_DB names: so no password shows among processes."""
    from platformdirs import user_data_path

    return os.environ.get("PINCHPOINT_DB") or f"sqlite:///{user_data_path('pinchpoint') / 'shop.sqlite'}"


@contextmanager
def _foreseen() -> Iterator[None]:
    """Turn a foreseen error into one line and its exit code."""
    from graph.errors import OutOfRange, PinchpointError, UsageError
    from ingest.problem import UnreadableValue

    try:
        yield
    except (UsageError, OutOfRange, UnreadableValue) as error:
        click.echo(f"pinchpoint: {error}", err=True)
        sys.exit(USAGE)
    except PinchpointError as error:
        click.echo(f"pinchpoint: {error}", err=True)
        sys.exit(UNFORESEEN)


def _address(_context: click.Context, _parameter: click.Parameter, given: str | None) -> str | None:
    """Take the path of a database file for its address; an empty one is refused, not taken for the usual shop."""
    if given is not None and not given.strip():
        raise click.BadParameter("names no database; write for example shop.sqlite, or leave --db out")
    if given and ":" not in given and Path(given).suffix in (".sqlite", ".sqlite3", ".db"):
        return f"sqlite:///{given}"
    return given


def _shared(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options that may stand before or after the command's name."""
    command = click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")(command)
    about = "Database: any SQLAlchemy URL, or a file such as shop.sqlite."
    return click.option("--db", "url", metavar="URL", callback=_address, help=about)(command)


def _show_version(context: click.Context, _parameter: click.Parameter, wanted: bool) -> None:
    if wanted:
        from graph.store.schema import head_version

        click.echo(f"pinchpoint {version()}, schema {head_version()}")
        context.exit()


@click.group(cls=Program, epilog=EPILOG, context_settings={"help_option_names": ["--help"]})
@_shared
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Version and schema, then leave.",
)
@click.pass_context
def main(context: click.Context, url: str | None, as_json: bool) -> None:
    """Which part of a tuned car stops first, what must be changed, and why."""
    if os.environ.get("PINCHPOINT_LOG"):  # text or json
        from ui.journal import start_journal

        start_journal()
    context.obj = {"url": url, "json": as_json}


def _settings(context: click.Context, url: str | None, as_json: bool) -> tuple[str, bool]:
    above = context.obj or {}
    return url or above.get("url") or default_url(), as_json or bool(above.get("json"))


def _open(url: str) -> Database:
    from graph.store import open_database
    from ui.local_user import local_actor

    return open_database(url).acting(local_actor("command line"))


def _print(document: dict[str, Any]) -> None:
    click.echo(json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1))


def _value(text: str | None, quantity: Quantity, option: str, bare: str | None = None) -> float | None:
    """An option's text as an SI value; `bare` is the unit of a number without one."""
    if text is None:
        return None
    from graph.errors import UsageError
    from ingest.problem import UnreadableValue
    from ingest.units import parse_quantity

    try:
        measure = parse_quantity(text, quantity, declared_unit=bare)
    except UnreadableValue as error:
        raise UsageError(f"{option}: {error}") from error
    if measure.low is not None or measure.high is not None or measure.qualifiers or measure.condition:
        raise UsageError(f"{option}: found {text!r}; expected is one number with its unit")
    if measure.basis == "wheel":
        raise UsageError(f"{option}: found {text!r}, a power at the wheels; expected is a power at the crank")
    return measure.value


def _split(text: str | None) -> tuple[str, ...]:
    """The words of an option that takes several, separated by commas."""
    return tuple(filter(None, (word.strip() for word in (text or "").split(","))))


def _read(paths: list[Path], known: View | None = None, words: Path | None = None) -> Book:
    from ingest.book import read_book

    return read_book(paths, known=known, words=words)


def _store(database: Database, book: Book, *, seen: int | None = None, replace_corrections: bool = False) -> None:
    from ingest.book import store_book
    from ui.local_user import local_user

    store_book(database, book, who=local_user(), version=version(), seen=seen, replace_corrections=replace_corrections)


def _defects(book: Book) -> None:
    for problem in book.problems:
        click.echo(problem.sentence, err=True)


def seed_folder() -> Path:
    """Folder of the demo shop's sheets; it lies beside this package, installed or in a checkout."""
    return Path(__file__).resolve().parent.parent / "seed_parts"


@main.command(epilog=EPILOG)
@_shared
@click.pass_context
def demo(context: click.Context, url: str | None, as_json: bool) -> None:
    """Load the demo shop into a fresh database and check car A at 340 kW and 2.2 bar."""
    from platformdirs import user_data_path

    from graph.errors import UsageError
    from graph.service import Request, assess
    from ui.document import check_document
    from ui.format import counted
    from ui.ladder import ladder

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        named = url or (context.obj or {}).get("url")
        if named is None:
            path = user_data_path("pinchpoint") / "demo.sqlite"
            for suffix in ("", "-wal", "-shm"):
                path.with_name(path.name + suffix).unlink(missing_ok=True)
            given = f"sqlite:///{path}"
        database = _open(given)
        with database.read() as view:
            if view.parts():
                raise UsageError(
                    f"{database.url} holds a shop already; name a new database for the demo, or leave --db out"
                )
        book = _read([seed_folder()])
        _store(database, book)
        _defects(book)
        with database.read() as view:
            report = assess(view, "car-a", Request(power=340e3, boost=2.2e5))
    if wants_json:
        _print(check_document(report))
        return
    click.echo(
        f"demo shop: {counted(len(book.parts), 'part')}, {counted(len(book.cars), 'car')} in {database.url}", err=True
    )
    click.echo(ladder(report), nl=False)
    click.echo(
        f"\nAsk on with: pinchpoint --db {database.url} check car-a --power '305 kW' --boost '2.0 bar'", err=True
    )


@main.command(epilog=EPILOG)
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--report", type=click.Path(path_type=Path), help="Annotated copy of the sheets (XLSX).")
@click.option("--words", type=click.Path(path_type=Path), help="The shop's own list of words (TOML).")
@click.option("--replace-corrections", is_flag=True, help="Let the sheets overwrite ratings corrected by hand.")
@click.option(
    "--seen",
    type=click.IntRange(0),
    help="Newest load when you took the sheets in hand ('pinchpoint loads' lists them); what was written since stays.",
)
@_shared
@click.pass_context
def load(
    context: click.Context,
    paths: tuple[Path, ...],
    report: Path | None,
    words: Path | None,
    replace_corrections: bool,
    seen: int | None,
    url: str | None,
    as_json: bool,
) -> None:
    """Load sheets, folders of sheets, platform and car sheets."""
    from graph.store import last_load
    from ui.document import load_document
    from ui.format import counted

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        database = _open(given)
        with database.read() as view:
            seen = last_load(view) if seen is None else seen
            book = _read(list(paths), view, words)
        if report is not None:
            from ingest.annotate import write_annotated

            write_annotated(book, report)
        _store(database, book, seen=seen, replace_corrections=replace_corrections)
    if wants_json:
        _print(load_document(book))
    else:
        for tally in book.tallies:
            sheet = f", sheet '{tally.sheet}'" if tally.sheet else ""
            click.echo(
                f"{tally.file}{sheet}: {tally.rows} rows = {tally.loaded} loaded + {tally.held} held "
                f"+ {tally.not_data} not data"
            )
        click.echo(
            f"{counted(len(book.parts), 'part')}, {counted(len(book.platforms), 'platform')}, "
            f"{counted(len(book.cars), 'car')}; {counted(len(book.problems), 'defect')}"
        )
    _defects(book)
    sys.exit(DEFECTS if book.problems else DONE)


@main.command(epilog=EPILOG)
@_shared
@click.pass_context
def cars(context: click.Context, url: str | None, as_json: bool) -> None:
    """List the cars on record."""
    from graph.service import list_cars
    from ui.document import cars_document

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        found = list_cars(view)
    if wants_json:
        _print(cars_document(found))
        return
    if not found:
        click.echo("No car yet. Load a car sheet, or the demo shop with: pinchpoint demo")
    for car in found:
        click.echo(f"{car.id:12} {car.platform:14} {', '.join(car.codes):8} {car.fuel or '':8} {car.name}")


@main.command(epilog=EPILOG)
@click.option("--slot", help="Only parts for this place.")
@click.option("--fits", metavar="PLATFORM", help="Only parts that fit this platform, engine or gearbox code.")
@_shared
@click.pass_context
def parts(context: click.Context, slot: str | None, fits: str | None, url: str | None, as_json: bool) -> None:
    """List parts of the book."""
    from graph.service import list_parts
    from ui.document import parts_document

    given, wants_json = _settings(context, url, as_json)
    with _foreseen(), _open(given).read() as view:
        found = list_parts(view, slot, fits)
    if wants_json:
        _print(parts_document(found))
        return
    for part in found:
        _part_line(part)


def _part_line(part: Part) -> None:
    ratings = "; ".join(f"{r.name} {r.text}" for r in part.ratings)
    click.echo(f"{part.id:10} {part.kind:20} {part.name:40} {ratings}")


@main.command(epilog=EPILOG)
@click.argument("car")
@click.option("--power", required=True, help="Crank power, such as '340 kW' or '462 PS'.")
@click.option("--boost", help="Boost cap, gauge, such as '1.9 bar'.")
@click.option("--fuel", help="Fuel: ron98, ron102, e85, e30 ... or a part number.")
@click.option("--torque", help="Torque wanted, such as '540 Nm'.")
@click.option("--power-speed", help="Engine speed of the power, such as '6600 rpm'.")
@click.option("--ambient", help="Air temperature; a bare number is in degrees Celsius.")
@click.option("--altitude", help="Height above the sea; a bare number is in metres.")
@click.option("--pressure", help="Absolute air pressure at the place, such as '985 hPa'.")
@click.option("--minutes", help="How long full load is held; a bare number is in minutes.")
@click.option("--install", help="Parts to take as fitted, separated by commas.")
@click.option("--as-stated", is_flag=True, help="Leave out what rollers taught of this car's engine.")
@click.option("--no-evidence", is_flag=True, help="Leave out the line of evidence under each row.")
@click.option("--breakdown", "wants_breakdown", is_flag=True, help="Say where the power short of the target went.")
@_shared
@click.pass_context
def check(
    context: click.Context,
    /,
    car: str,
    as_stated: bool,
    no_evidence: bool,
    wants_breakdown: bool,
    url: str | None,
    as_json: bool,
    **asked: str | None,
) -> None:
    """Weakest link and every ceiling of a car at a target."""
    from graph.breakdown import breakdown
    from graph.kinds import discover
    from graph.quantity import Quantity
    from graph.service import Request, assess
    from ui.document import breakdown_document, check_document
    from ui.ladder import breakdown_text, ladder

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        power = _value(asked["power"], Quantity.POWER, "--power")
        if power is None:
            raise click.UsageError("--power is needed")
        request = Request(
            power=power,
            boost=_value(asked["boost"], Quantity.GAUGE_PRESSURE, "--boost"),
            fuel=asked["fuel"],
            torque=_value(asked["torque"], Quantity.TORQUE, "--torque"),
            power_speed=_value(asked["power_speed"], Quantity.ROTATIONAL_SPEED, "--power-speed"),
            ambient=_value(asked["ambient"], Quantity.TEMPERATURE, "--ambient", "°C"),
            altitude=_value(asked["altitude"], Quantity.DISTANCE, "--altitude", "m"),
            pressure=_value(asked["pressure"], Quantity.ABSOLUTE_PRESSURE, "--pressure"),
            duration=_value(asked["minutes"], Quantity.DURATION, "--minutes", "min"),
            install=_split(asked["install"]),
            as_stated=as_stated,
        )
        with _open(given).read() as view:
            report = assess(view, car, request)
        went = breakdown(report.build, report.target, discover()) if wants_breakdown else None
    if wants_json:
        document = check_document(report)
        _print(document if went is None else {**document, "breakdown": breakdown_document(went)})
    else:
        click.echo(ladder(report, evidence=not no_evidence), nl=False)
        if went is not None:
            click.echo("\n" + breakdown_text(went), nl=False)
    sys.exit(DONE if report.reachable is True else NOT_REACHED)


def _register() -> None:
    """Add the commands of the other topics."""
    from ui import (
        app_command,
        arrival_commands,
        book_commands,
        correction_command,
        decide_command,
        explain_command,
        learn_command,
        people_commands,
        plan_commands,
        record_commands,
        sheet_commands,
        study_command,
        upkeep_commands,
    )

    for topic in (
        plan_commands,
        explain_command,
        learn_command,
        arrival_commands,
        record_commands,
        book_commands,
        sheet_commands,
        correction_command,
        decide_command,
        people_commands,
        upkeep_commands,
        app_command,
        study_command,
    ):
        topic.register(main)


if __name__ == "__main__":  # the topics import this module by its own name; the program is that one, made once
    from ui.cli import main as program

    program()
else:
    _register()
