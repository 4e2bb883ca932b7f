"""Commands around plans: the cheapest set of parts for a target, and money against power."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ui.amount import Amount

if TYPE_CHECKING:
    from graph.plan.record import Point
    from graph.proposal import Bureau

#: Whether the target is reached, the answer as a document, the answer as text.
Answer = tuple[bool, Callable[[], dict[str, Any]], Callable[[], str]]


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
        click.option("--as-stated", is_flag=True, help="Leave out what rollers taught of this car's engine."),
        click.option("--budget", type=Amount(), help="Largest total with tax."),
        click.option("--keep", help="Slots whose part stays, separated by commas."),
        click.option("--forbid", help="Parts that must not be fitted, separated by commas."),
        click.option("--in-stock", is_flag=True, help="Buy only what lies on the shelf."),
        click.option("--used", is_flag=True, help="Used pieces on the shelf may be fitted too."),
        click.option(
            "--within-days",
            type=Amount(high=3650.0),
            help="Buy only what is on the shelf or there within so many days.",
        ),
        click.option("--fewest", is_flag=True, help="Fewest parts first, and among those the least money."),
        click.option("--bad-day", is_flag=True, help="Plan for 35 °C, 600 m and fuel one octane number short."),
        click.option(
            "--rate", type=Amount(high=1.0e5), default=95.0, show_default=True, help="Net price of an hour of labour."
        ),
        click.option("--tax", type=Amount(high=100.0), default=20.0, show_default=True, help="Tax in per cent."),
        click.option(
            "--harm",
            type=Amount(high=100.0),
            default=5.0,
            show_default=True,
            help="Chance in per cent at which a limit is clear.",
        ),
        click.option(
            "--loss",
            type=Amount(high=100.0),
            default=20.0,
            show_default=True,
            help="The same where it only costs power.",
        ),
        click.option(
            "--holds",
            type=Amount(high=100.0),
            default=80.0,
            show_default=True,
            help="Least chance in per cent to hold the power.",
        ),
        click.option(
            "--operations", type=click.Path(path_type=Path), help="Sheet of strip-downs that jobs share (CSV)."
        ),
        click.option(
            "--patience", type=Amount(high=86400.0), default=120.0, show_default=True, help="Longest search in seconds."
        ),
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
        as_stated=asked["as_stated"],
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
        used=asked["used"],
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
    @click.option("--stages", help="Powers, such as '305 kW, 340 kW', reached one after the other.")
    @click.option("--options", is_flag=True, help="Three ways, good, better and best, by one rule for all cars.")
    @_wished
    @_shared
    @click.pass_context
    def plan(
        context: click.Context,
        /,
        car: str,
        power: str | None,
        stages: str | None,
        options: bool,
        url: str | None,
        as_json: bool,
        **asked: Any,
    ) -> None:
        """Cheapest set of parts for a target, with its proof, and what each part is needed for."""
        from graph.errors import UsageError
        from ui.cli import DONE, NOT_REACHED, _foreseen, _open, _print, _settings, _split

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            powers = [_power(p) for p in _split(stages)] if stages else [_power(power)]
            if stages and len(powers) < 2:
                raise UsageError(f"--stages: found {stages!r}; expected are two or more powers, separated by commas")
            if stages and options:
                raise UsageError("--stages goes without --options; leave out the one or the other")
            if asked["budget"] is not None and (stages or options):
                raise UsageError("--budget goes with one power; leave it out, or leave out --stages and --options")
            with _open(given).read() as view:
                bureau = _bureau(view, car, powers[-1], asked)
                if options:
                    answer = _offered(view, bureau)
            if stages:
                answer = _staged(bureau, powers)
            elif not options:
                answer = _planned(bureau, powers[0], asked["budget"])
        done, document, text = answer
        if wants_json:
            _print(document())
        else:
            click.echo(text(), nl=False)
        sys.exit(DONE if done else NOT_REACHED)

    return plan


def _planned(bureau: Bureau, power: float, budget: float | None) -> Answer:
    """One power: the plan, the numbers that would change it, the numbers that are missing."""
    from graph import sweep
    from graph.missing import missing
    from ui.path_text import missing_text, turning_text
    from ui.plan_document import missing_document, plan_document, turning_document
    from ui.plan_text import plan_text

    found = sweep.answered(bureau, power) if budget is None else sweep.affordable(bureau, power, budget)
    turned = sweep.turning(bureau, found) if found.reachable else ()
    open_rows = missing(bureau, found) if found.proven else ()
    return (
        found.reachable,
        lambda: {
            **plan_document(found),
            "turning": turning_document(turned),
            "missing": missing_document(open_rows),
        },
        lambda: plan_text(found) + turning_text(turned) + missing_text(open_rows),
    )


def _staged(bureau: Bureau, powers: list[float]) -> Answer:
    """Powers reached one after the other."""
    from graph.staging import staged
    from ui.path_text import path_text
    from ui.plan_document import path_document

    path = staged(bureau, *powers)
    done = len(path.plans) == len(powers) and all(plan.reachable for plan in path.plans)
    return done, lambda: path_document(path), lambda: path_text(path)


def _offered(view: Any, bureau: Bureau) -> Answer:
    """Good, better, best; the same ways as on the customer's page."""
    from graph.service import assess
    from ui.customer_options import offer
    from ui.path_text import options_text
    from ui.plan_document import options_document

    wish = bureau.request.power
    report = assess(view, bureau.car.id, bureau.request, suggest=False)
    made = offer(bureau, report, bureau.terms.patience, lambda words: click.echo(words, err=True))
    least = tuple(bureau.plan(o.power, explain=False).plan.cost for o in made.options)
    done = bool(made.options) and made.options[-1].power >= wish
    return done, lambda: options_document(made, least), lambda: options_text(made, least)


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
        from graph.errors import OutOfRange
        from ui import kept
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
            points = kept.frontier(bureau, stride, said)
        if wants_json:
            _print(frontier_document(points))
        else:
            click.echo(frontier_text(points), nl=False)

    return frontier
