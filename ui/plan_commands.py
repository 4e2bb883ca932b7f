"""Commands around plans: the cheapest set of parts for a target, and money against power."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.plan.record import Point
    from graph.proposal import Bureau


def register(main: click.Group) -> None:
    """Add the commands to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    main.add_command(_plan_command())
    main.add_command(_frontier_command())


def _wished(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options that both commands share."""
    options = (
        click.option("--boost", help="Boost cap, gauge, such as '1.9 bar'."),
        click.option("--fuel", help="Fuel to stay with; without it the fuel is a choice."),
        click.option("--torque", help="Torque wanted, such as '540 Nm'."),
        click.option("--power-speed", help="Engine speed of the power, such as '6600 rpm'."),
        click.option("--ambient", help="Air temperature; a bare number is in degrees Celsius."),
        click.option("--altitude", help="Height above the sea; a bare number is in metres."),
        click.option("--pressure", help="Absolute air pressure at the place, such as '985 hPa'."),
        click.option("--minutes", help="How long full load is held; a bare number is in minutes."),
        click.option("--install", help="Parts to take as fitted already, separated by commas."),
        click.option("--budget", type=float, help="Largest total with tax."),
        click.option("--keep", help="Slots whose part stays, separated by commas."),
        click.option("--forbid", help="Parts that must not be fitted, separated by commas."),
        click.option("--in-stock", is_flag=True, help="Buy only what lies on the shelf."),
        click.option("--within-days", type=float, help="Buy only what is on the shelf or there within so many days."),
        click.option("--fewest", is_flag=True, help="Fewest parts first, and among those the least money."),
        click.option("--bad-day", is_flag=True, help="Plan for 35 °C, 600 m and fuel one octane number short."),
        click.option("--rate", type=float, default=95.0, show_default=True, help="Net price of an hour of labour."),
        click.option("--tax", type=float, default=20.0, show_default=True, help="Tax in per cent."),
        click.option(
            "--harm", type=float, default=5.0, show_default=True, help="Chance in per cent at which a limit is clear."
        ),
        click.option("--loss", type=float, default=20.0, show_default=True, help="The same where it only costs power."),
        click.option(
            "--holds", type=float, default=80.0, show_default=True, help="Least chance in per cent to hold the power."
        ),
        click.option(
            "--operations", type=click.Path(path_type=Path), help="Sheet of strip-downs that jobs share (CSV)."
        ),
        click.option("--patience", type=float, default=120.0, show_default=True, help="Longest search in seconds."),
    )
    for option in reversed(options):
        command = option(command)
    return command


def _bureau(view: Any, car: str, power: float, asked: dict[str, Any]) -> Bureau:
    from graph.plan.wish import MarginPolicy, ShopTerms, Wishes
    from graph.proposal import Bureau, Terms
    from graph.quantity import Quantity
    from graph.service import Request
    from ingest.operation import read_operations
    from ui.cli import _split, _value, seed_folder

    given = asked["operations"]
    rows, problems = read_operations(given or seed_folder() / "labour" / "operations.csv")
    for problem in problems:
        click.echo(problem.sentence, err=True)
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
    )
    terms = Terms(
        shop=ShopTerms(hourly_rate=asked["rate"], tax=asked["tax"] / 100.0),
        operations=rows,
        policy=MarginPolicy(harm=asked["harm"] / 100.0, cost=asked["loss"] / 100.0, holds=asked["holds"] / 100.0),
        patience=asked["patience"],
    )
    wishes = Wishes(
        keep=frozenset(_split(asked["keep"])),
        forbid=frozenset(_split(asked["forbid"])),
        in_stock=asked["in_stock"],
        within=None if asked["within_days"] is None else 86400.0 * asked["within_days"],
        fewest=asked["fewest"],
        bad_day=asked["bad_day"],
        budget=asked["budget"],
    )
    return Bureau(view, car, request, terms, wishes)


def _power(text: str | None) -> float:
    from graph.quantity import Quantity
    from ui.cli import _value

    power = _value(text, Quantity.POWER, "--power")
    if power is None:
        raise click.UsageError("--power is needed")
    return power


def _plan_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="plan", epilog=EPILOG)
    @click.argument("car")
    @click.option("--power", help="Crank power, such as '340 kW' or '462 PS'.")
    @click.option("--stages", help="Two powers, such as '305 kW, 340 kW', reached one after the other.")
    @_wished
    @_shared
    @click.pass_context
    def plan(
        context: click.Context,
        /,
        car: str,
        power: str | None,
        stages: str | None,
        url: str | None,
        as_json: bool,
        **asked: Any,
    ) -> None:
        """Cheapest set of parts for a target, with its proof, and what each part is needed for."""
        from graph import sweep
        from graph.errors import UsageError
        from ui.cli import DONE, NOT_REACHED, _foreseen, _open, _print, _settings, _split
        from ui.plan_document import path_document, plan_document, turning_document
        from ui.plan_text import path_text, plan_text, turning_text

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            powers = [_power(p) for p in _split(stages)] if stages else [_power(power)]
            if stages and len(powers) != 2:
                raise UsageError(f"--stages: found {stages!r}; expected are two powers, separated by a comma")
            with _open(given).read() as view:
                bureau = _bureau(view, car, powers[-1], asked)
            if len(powers) == 2:
                path = sweep.stages(bureau, *powers)
                document, text, found = path_document, path_text, path
                done = path.first.reachable and path.second.reachable
            else:
                budget = asked["budget"]
                ask = sweep.answered
                answer = ask(bureau, powers[0]) if budget is None else sweep.affordable(bureau, powers[0], budget)
                document, text, found = plan_document, plan_text, answer  # type: ignore[assignment]
                done = answer.reachable
            turned = sweep.turning(bureau, found) if len(powers) == 1 and done else ()  # type: ignore[arg-type]
        if wants_json:
            _print({**document(found), "turning": turning_document(turned)})
        else:
            click.echo(text(found) + turning_text(turned), nl=False)
        sys.exit(DONE if done else NOT_REACHED)

    return plan


def _frontier_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="frontier", epilog=EPILOG)
    @click.argument("car")
    @click.option("--step", default="10 kW", show_default=True, help="Step of the powers.")
    @_wished
    @_shared
    @click.pass_context
    def frontier(context: click.Context, /, car: str, step: str, url: str | None, as_json: bool, **asked: Any) -> None:
        """Money against power: the cheapest plan for every power on a grid."""
        from graph import sweep
        from graph.errors import OutOfRange
        from ui.cli import _foreseen, _open, _print, _settings
        from ui.plan_document import frontier_document
        from ui.plan_text import frontier_text

        def said(point: Point) -> None:
            click.echo(f"{point.power / 1e3:.0f} kW: {point.total:.0f}", err=True)

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            stride = _power(step)
            if not 500.0 <= stride <= 100.0e3:
                raise OutOfRange("step", f"{stride / 1e3:g} kW", "0.5 to 100 kW", "choose a step within that range")
            with _open(given).read() as view:
                bureau = _bureau(view, car, 100.0e3, asked)
            points = sweep.frontier(bureau, stride, said)
        if wants_json:
            _print(frontier_document(points))
        else:
            click.echo(frontier_text(points), nl=False)

    return frontier
