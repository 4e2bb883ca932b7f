"""The command that learns from dyno records and says what follows for another boost, fuel, part or day."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.dyno import Basis, Point, Record
    from graph.learnt import Learnt
    from graph.lesson import Classroom
    from graph.store import Database

#: What the loss interval is when none is given (usual for one driven axle; error of a dyno's own loss measurement).
USUAL_LOSS = {"wheel": (0.10, 0.20), "crank": (-0.03, 0.03)}


def register(main: click.Group) -> None:
    """Add the command to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    main.add_command(_learn_command())


def _learn_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="learn", epilog=EPILOG)
    @click.argument("car")
    @click.argument("logs", nargs=-1, type=click.Path(path_type=Path))
    @click.option(
        "--point",
        "points",
        multiple=True,
        help="A reading: '225 kW @ 6000 rpm @ 1.25 bar' or '400 Nm @ 3000 rpm @ 1.25 bar'. As often as needed.",
    )
    @click.option("--basis", type=click.Choice(["crank", "wheel"]), default="crank", show_default=True)
    @click.option("--loss", help="Share of the crank power that the figures lack, as an interval: '10 to 20 %'.")
    @click.option("--standard", default="none", show_default=True, help="Correction that the figures contain.")
    @click.option("--fuel", help="Fuel that was in the tank; the car's own without it.")
    @click.option("--ambient", help="Air temperature at the rollers; a bare number is in degrees Celsius.")
    @click.option("--pressure", help="Absolute air pressure at the rollers, such as '985 hPa'.")
    @click.option("--altitude", help="Height above the sea, where the pressure is not known; a bare number in metres.")
    @click.option("--humidity", help="Relative humidity, such as '40 %'.")
    @click.option("--then-boost", multiple=True, help="Boost to predict for, gauge. As often as needed.")
    @click.option("--then-fuel", help="Fuel to predict for.")
    @click.option("--then-install", help="Parts to predict for, separated by commas.")
    @click.option("--then-ambient", help="Air temperature to predict for; a bare number is in degrees Celsius.")
    @click.option("--keep", is_flag=True, help="Keep it: every later check, plan and pull of the car uses it.")
    @click.option("--withdraw", metavar="REASON", help="Let the engine count as stated again; what was kept stays.")
    @click.option("--history", is_flag=True, help="List what was kept of the engine, and what was withdrawn.")
    @_shared
    @click.pass_context
    def learn(
        context: click.Context,
        /,
        car: str,
        logs: tuple[Path, ...],
        points: tuple[str, ...],
        then_boost: tuple[str, ...],
        keep: bool,
        withdraw: str | None,
        history: bool,
        url: str | None,
        as_json: bool,
        **asked: Any,
    ) -> None:
        """What dyno records say of a car's breathing, knock and friction, and what it makes elsewhere.

        LOGS are pulls at full load with power or torque and boost; readings of a printed sheet go into --point. What is
        kept replaces what was kept of this engine before: name every record that shall count.
        """
        from graph.lesson import Classroom
        from ui.cli import _foreseen, _open, _print, _settings
        from ui.learn_text import learn_document, learn_text

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            database = _open(given)
            if history or withdraw is not None:
                if logs or points or keep:
                    raise click.UsageError("--history and --withdraw go without records and without --keep")
                _kept(database, car, withdraw, wants_json)
                return
            with database.read() as view:
                room = Classroom(view=view, car=car)
                records, digests = _records(room, logs, points, asked)
                found = room.learn(records)
                ahead = [room.outlook(found, request) for request in _requests(room, then_boost, asked)]
                learnt = room.kept(found, records)
            if keep:
                _keep(database, car, learnt, digests)
        if wants_json:
            _print({**learn_document(car, found, ahead), "kept": keep})
        else:
            click.echo(learn_text(car, found, ahead), nl=False)
            if keep:
                click.echo(f"\nKept: check, plan and pull of {car} use it; --withdraw takes it back.")

    return learn


def _keep(database: Database, car: str, learnt: Learnt, digests: list[str]) -> None:
    from graph.store import keep_lesson
    from ui.cli import version
    from ui.local_user import local_user

    with database.write() as unit:
        keep_lesson(unit, car, learnt, digests=digests, who=local_user(), tool_version=version())


def _kept(database: Database, car: str, withdraw: str | None, wants_json: bool) -> None:
    """Say what is kept of an engine, after taking it back where that is asked."""
    from graph.service import find_record
    from graph.store import withdraw_lesson
    from ui.cli import _print, version
    from ui.engine_text import history_document, history_lines
    from ui.local_user import local_user

    if withdraw is not None:
        with database.write() as unit:
            find_record("car", car, unit.cars())
            withdraw_lesson(unit, car, withdraw, who=local_user(), tool_version=version())
    with database.read() as view:
        find_record("car", car, view.cars())
        lessons = view.lessons(car)
    if wants_json:
        _print(history_document(car, lessons))
    else:
        click.echo("\n".join(history_lines(car, lessons)))


def _records(
    room: Classroom, logs: tuple[Path, ...], points: tuple[str, ...], asked: dict[str, Any]
) -> tuple[list[Record], list[str]]:
    """Records of logs and of readings typed in, and the digests of the logs."""
    from graph.dyno import Basis, Record
    from graph.errors import UsageError
    from graph.lesson import readings
    from graph.quantity import Quantity
    from graph.service import Request
    from ingest.log import read_log
    from ui.cli import _value

    request = Request(
        power=room.platform().constants.get("factory power", 1.0e5),
        fuel=asked["fuel"],
        ambient=_value(asked["ambient"], Quantity.TEMPERATURE, "--ambient", "°C"),
        pressure=_value(asked["pressure"], Quantity.ABSOLUTE_PRESSURE, "--pressure"),
        altitude=_value(asked["altitude"], Quantity.DISTANCE, "--altitude", "m"),
    )
    day = room.day(request)
    basis = Basis(asked["basis"])
    common: dict[str, Any] = {
        "fuel": day.fuel,
        "weather": day.weather,
        "humidity": _value(asked["humidity"], Quantity.RATIO, "--humidity") or 0.0,
        "basis": basis,
        "loss": _loss(asked["loss"], basis),
        "standard": asked["standard"].lower(),
    }
    found, digests = [], []
    for path in logs:
        book = read_log(path)
        digests.append(book.sha256)
        for problem in book.problems:
            click.echo(problem.sentence, err=True)
        if book.reading.pull is None:
            raise UsageError(f"{path.name} holds one line per pull; learning needs a pull over engine speed")
        found.append(Record(name=path.name, points=readings(book.reading.pull, path.name, basis), **common))
    if points:
        found.append(Record(name="--point", points=tuple(_point(text) for text in points), **common))
    if not found:
        raise UsageError("no record: name a log of a pull, or readings with --point '225 kW @ 6000 rpm @ 1.25 bar'")
    return found, digests


def _loss(text: str | None, basis: Basis) -> tuple[float, float]:
    from graph.errors import UsageError
    from graph.quantity import Quantity
    from ingest.problem import UnreadableValue
    from ingest.units import parse_quantity

    if text is None:
        return USUAL_LOSS[basis.value]
    try:
        measure = parse_quantity(text, Quantity.RATIO)
    except UnreadableValue as error:
        raise UsageError(f"--loss: {error}") from error
    if measure.low is None or measure.high is None:
        raise UsageError(f"--loss: found {text!r}; expected is an interval such as '10 to 20 %'")
    return measure.low, measure.high


def _point(text: str) -> Point:
    """One reading from 'power or torque @ speed @ boost'."""
    from math import pi

    from graph.dyno import Point
    from graph.errors import UsageError
    from graph.quantity import Quantity
    from ingest.problem import UnreadableValue
    from ingest.units import parse_quantity

    parts = [part.strip() for part in text.split("@")]
    expected = "expected is a power or torque, a speed and a boost: '225 kW @ 6000 rpm @ 1.25 bar'"
    if len(parts) != 3:
        raise UsageError(f"--point: found {text!r}; {expected}")
    try:
        speed = parse_quantity(parts[1], Quantity.ROTATIONAL_SPEED).value
        boost = parse_quantity(parts[2], Quantity.GAUGE_PRESSURE).value
        try:
            power = parse_quantity(parts[0], Quantity.POWER).value
        except UnreadableValue:
            power = parse_quantity(parts[0], Quantity.TORQUE).value * 2.0 * pi * speed
    except UnreadableValue as error:
        raise UsageError(f"--point {text!r}: {error}; {expected}") from error
    return Point(speed=speed, power=power, boost=boost)


def _requests(room: Classroom, boosts: tuple[str, ...], asked: dict[str, Any]) -> list[Any]:
    from graph.quantity import Quantity
    from graph.service import Request, refuse_out_of_range
    from ui.cli import _split, _value

    wanted = boosts or ((None,) if any(asked[k] for k in ("then_fuel", "then_install", "then_ambient")) else ())
    install = _split(asked["then_install"])
    found = []
    for boost in wanted:
        request = Request(
            power=room.platform().constants.get("factory power", 1.0e5),
            boost=_value(boost, Quantity.GAUGE_PRESSURE, "--then-boost"),
            fuel=asked["then_fuel"] or asked["fuel"],
            ambient=_value(asked["then_ambient"], Quantity.TEMPERATURE, "--then-ambient", "°C"),
            install=install,
        )
        refuse_out_of_range(request)
        found.append(request)
    return found
