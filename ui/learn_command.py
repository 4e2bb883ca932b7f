"""The command that learns from dyno records and says what follows for another boost, fuel, part or day."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.calibration import Calibration
    from graph.dyno import Basis, Point, Record
    from graph.lesson import Classroom, Outlook

#: What the loss interval is when none is given (usual for one driven axle; error of a dyno's own loss measurement).
USUAL_LOSS = {"wheel": (0.10, 0.20), "crank": (-0.03, 0.03)}
#: Words of the estimated factors.
WORDS = {"breathing": "breathing", "knock_gain": "resistance to knock", "friction_gain": "friction"}


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
    @_shared
    @click.pass_context
    def learn(
        context: click.Context,
        /,
        car: str,
        logs: tuple[Path, ...],
        points: tuple[str, ...],
        then_boost: tuple[str, ...],
        url: str | None,
        as_json: bool,
        **asked: Any,
    ) -> None:
        """What dyno records say of a car's breathing, knock and friction, and what it makes elsewhere.

        LOGS are pulls at full load with power or torque and boost; readings of a printed sheet go into --point.
        """
        from graph.lesson import Classroom
        from ui.cli import _foreseen, _open, _print, _settings

        given, wants_json = _settings(context, url, as_json)
        with _foreseen(), _open(given).read() as view:
            room = Classroom(view=view, car=car)
            found = room.learn(_records(room, logs, points, asked))
            ahead = [room.outlook(found, request) for request in _requests(room, then_boost, asked)]
        if wants_json:
            _print(_document(car, found, ahead))
        else:
            click.echo(_text(car, found, ahead), nl=False)

    return learn


def _records(room: Classroom, logs: tuple[Path, ...], points: tuple[str, ...], asked: dict[str, Any]) -> list[Record]:
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
    found = []
    for path in logs:
        book = read_log(path)
        for problem in book.problems:
            click.echo(problem.sentence, err=True)
        if book.reading.pull is None:
            raise UsageError(f"{path.name} holds one line per pull; learning needs a pull over engine speed")
        found.append(Record(name=path.name, points=readings(book.reading.pull, path.name, basis), **common))
    if points:
        found.append(Record(name="--point", points=tuple(_point(text) for text in points), **common))
    if not found:
        raise UsageError("no record: name a log of a pull, or readings with --point '225 kW @ 6000 rpm @ 1.25 bar'")
    return found


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


def _document(car: str, found: Calibration, ahead: list[Outlook]) -> dict[str, Any]:
    from ui.format import listed

    def interval(value: Any, factor: float) -> dict[str, float | None]:
        high = None if value.high is None else round(value.high * factor, 3)
        return {"low": round(value.low * factor, 3), "value": round(value.median * factor, 3), "high": high}

    predictions = []
    for outlook in ahead:
        (torque_speed, torque), (power_speed, power) = outlook.torque, outlook.power
        curve = outlook.prediction
        predictions.append(
            {
                "boost_bar": None if outlook.request.boost is None else outlook.request.boost / 1e5,
                "fuel": outlook.fuel,
                "install": list(outlook.request.install),
                "power_kW": {**interval(power, 1e-3), "at_rpm": round(power_speed * 60.0)},
                "torque_Nm": {**interval(torque, 1.0), "at_rpm": round(torque_speed * 60.0)},
                "curve": {
                    "speed_rpm": listed(curve.speed, 60.0),
                    "torque_low_Nm": listed(curve.low),
                    "torque_Nm": listed(curve.median),
                    "torque_high_Nm": listed(curve.high),
                },
            }
        )
    return {
        "schema": "pinchpoint.learn/1",
        "car": car,
        "readings": int(found.residual.size),
        "estimates": [
            {
                "name": e.name,
                "factor": round(e.factor, 4),
                "low": round(e.low, 4),
                "high": round(e.high, 4),
                "prior_low": round(e.prior_low, 4),
                "prior_high": round(e.prior_high, 4),
                "learnt": e.learnt,
            }
            for e in found.estimates
        ],
        "misfit": round(found.misfit, 3),
        "cannot_tell": list(found.words),
        "predictions": predictions,
    }


def _text(car: str, found: Calibration, ahead: list[Outlook]) -> str:
    from ui import format as shown

    lines = [f"{car}: {found.residual.size} readings, compared with the model as the sheets state it", ""]
    lines += [
        f"  {WORDS[e.name]:22} x {e.factor:.3f}   9 in 10: {e.low:.3f} to {e.high:.3f}   "
        f"before: {e.prior_low:.3f} to {e.prior_high:.3f}" + ("" if e.learnt else "   not learnt from these readings")
        for e in found.estimates
    ]
    if found.misfit > 2.0:
        lines += [
            "",
            f"The readings contradict the model (chi squared {found.misfit:.1f} per reading): check the sheet.",
        ]
    if found.words:
        lines += ["", *found.words]
    for outlook in ahead:
        boost = outlook.request.boost
        cap = "no boost cap" if boost is None else f"up to {shown.boost(boost)}"
        (torque_speed, torque), (power_speed, power) = outlook.torque, outlook.power
        parts = f", with {', '.join(outlook.request.install)}" if outlook.request.install else ""
        lines += [
            "",
            f"On {outlook.fuel}, {cap}{parts}, what the engine makes (limits of the parts apart):",
            f"  power  {power.median / 1e3:5.0f} kW at {power_speed * 60:5.0f} 1/min   "
            f"9 in 10: {power.low / 1e3:.0f} to {(power.high or power.median) / 1e3:.0f}",
            f"  torque {torque.median:5.0f} N·m at {torque_speed * 60:4.0f} 1/min   "
            f"9 in 10: {torque.low:.0f} to {torque.high or torque.median:.0f}",
        ]
    return "\n".join(lines) + "\n"
