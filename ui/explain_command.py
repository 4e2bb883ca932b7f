"""The command that writes a customer's page, or the job sheet of the same plan for the workshop."""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ui.amount import Amount

if TYPE_CHECKING:
    from graph.service import Request
    from graph.store import View
    from ui.customer_facts import Facts
    from ui.printed import Sheet
    from ui.shop_settings import ShopSettings

CUSTOMER, WORKSHOP = "customer", "workshop"
FORMS = (".pdf", ".html")


def register(main: click.Group) -> None:
    """Add the command to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    main.add_command(_explain_command())


def gather(
    view: View,
    car: str,
    request: Request,
    shop: ShopSettings,
    date: datetime.date,
    *,
    plan: bool = True,
    patience: float = 120.0,
    say: Callable[[str], None] | None = None,
    labour: Path | None = None,
) -> Facts:
    """Ask everything that a page says.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.
    request : Request
        What is asked [SI].
    shop : ShopSettings
        Whose page it is.
    date : datetime.date
        Of the page.
    plan : bool
        False to leave out the ways to do it and their prices.
    patience : float
        Longest search for all ways together [s].
    say : callable or None
        Told what is being worked on, in words.
    labour : Path or None
        Folder with the shop's sheets of strip-downs, hours and findings; None for the demo shop's.

    Returns
    -------
    Facts
        [SI]
    """
    from graph.gate import Condition, roller_gate
    from graph.recorded import on_record
    from graph.service import assess, list_cars
    from ingest.experience import read_experience
    from ui.arrival_commands import _knowledge
    from ui.cli import seed_folder
    from ui.customer_facts import Facts
    from ui.shop_settings import read_logo

    if say is not None:
        say("checking every limit")
    logo = read_logo(shop)
    folder = labour or seed_folder() / "labour"
    learned = read_experience(folder)
    for problem in learned.problems:
        click.echo(problem.sentence, err=True)
    report = assess(view, car, request, suggest=False)
    record = next(c for c in list_cars(view) if c.id == car)
    noted = on_record(view.facts(car))[1]
    looks = {i.id: i.duration for i in _knowledge(None).inspections}
    return Facts(
        report=report,
        car=record,
        shop=shop,
        date=date,
        offer=_offer(view, car, request, shop, report, patience, say, folder) if plan else None,
        looks=looks,
        experience=learned.experience,
        decisions=view.decisions(car),
        logo=logo,
        gate=roller_gate(
            Condition(
                signs=noted.present,
                absent=noted.absent,
                checked=noted.checked,
                faulty=noted.faulty,
                repaired=noted.repaired,
            )
        ),
    )


def _offer(
    view: View,
    car: str,
    request: Request,
    shop: ShopSettings,
    report: Any,
    patience: float,
    say: Callable[[str], None] | None,
    labour: Path,
) -> Any:
    from graph.plan.wish import ShopTerms, Wishes
    from graph.proposal import Bureau, Terms
    from ingest.operation import read_operations
    from ui.customer_options import offer

    operations, problems = read_operations(labour / "operations.csv")
    for problem in problems:
        click.echo(problem.sentence, err=True)
    rates = ShopTerms(hourly_rate=shop.hourly_rate, tax=shop.tax, currency=shop.currency)
    terms = Terms(shop=rates, operations=operations, patience=patience)
    return offer(Bureau(view, car, request, terms, Wishes()), report, patience, say)


def write(sheet: Sheet, date: datetime.date, author: str, out: Path) -> None:
    """Write a sheet as PDF or HTML, by the ending of the file's name.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    date : datetime.date
        Of the file.
    author : str
        Whose sheet it is.
    out : Path
        The file.

    Raises
    ------
    UsageError
        Another ending, or the file cannot be written.
    """
    from graph.errors import UsageError

    form = out.suffix.lower()
    if form not in FORMS:
        raise UsageError(f"--out: found {out.name!r}; expected is a name that ends in .pdf or .html")
    if form == ".pdf":
        from ui.customer_pdf import sheet_pdf

        made = sheet_pdf(sheet, date, author)
    else:
        from ui.customer_html import sheet_html

        made = sheet_html(sheet).encode()
    try:
        out.write_bytes(made)
    except OSError as error:
        raise UsageError(f"--out: {out} cannot be written: {error.strerror}") from error


def _explain_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="explain", epilog=EPILOG)
    @click.argument("car")
    @click.option("--power", required=True, help="Crank power, such as '340 kW' or '462 PS'.")
    @click.option("--boost", help="Boost cap, gauge, such as '1.9 bar'.")
    @click.option("--fuel", help="Fuel to stay with; without it the car's own is judged and the plan may choose.")
    @click.option("--ambient", help="Air temperature; a bare number is in degrees Celsius.")
    @click.option("--minutes", help="How long full load is held; a bare number is in minutes.")
    @click.option("--as-stated", is_flag=True, help="Leave out what rollers taught of this car's engine.")
    @click.option("--out", required=True, type=click.Path(path_type=Path), help="File to write: .pdf or .html.")
    @click.option("--language", type=click.Choice(["en", "de"]), default="en", show_default=True)
    @click.option("--for", "reader", type=click.Choice([CUSTOMER, WORKSHOP]), default=CUSTOMER, show_default=True)
    @click.option("--shop", type=click.Path(path_type=Path), help="The shop's settings (TOML); default: the demo shop.")
    @click.option(
        "--labour",
        type=click.Path(path_type=Path, exists=True, file_okay=False),
        help="Folder with operations.csv, hours.csv and findings.csv; default: the demo shop's.",
    )
    @click.option("--date", help="Date of the sheet, such as 2026-11-25; default: today.")
    @click.option("--no-plan", is_flag=True, help="Leave out the ways to do it and their prices.")
    @click.option(
        "--patience",
        type=Amount(high=86400.0),
        default=120.0,
        show_default=True,
        help="Longest search for all ways, seconds.",
    )
    @_shared
    @click.pass_context
    def explain(
        context: click.Context,
        /,
        car: str,
        out: Path,
        language: str,
        reader: str,
        shop: Path | None,
        labour: Path | None,
        date: str | None,
        no_plan: bool,
        patience: float,
        as_stated: bool,
        url: str | None,
        as_json: bool,
        **asked: str | None,
    ) -> None:
        """Write the customer's page of a car and a wish, or the workshop's job sheet."""
        from graph.errors import UsageError
        from graph.quantity import Quantity
        from graph.service import Request
        from ui.cli import _foreseen, _open, _print, _settings, _value, seed_folder
        from ui.customer_page import customer_page
        from ui.customer_words import words
        from ui.explain_document import explain_document
        from ui.job_sheet import job_sheet
        from ui.shop_settings import read_shop

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            if out.suffix.lower() not in FORMS:
                raise UsageError(f"--out: found {out.name!r}; expected is a name that ends in .pdf or .html")
            day = _day(date)
            settings = read_shop(shop or seed_folder() / "shop.toml")
            power = _value(asked["power"], Quantity.POWER, "--power")
            if power is None:
                raise click.UsageError("--power is needed")
            request = Request(
                power=power,
                boost=_value(asked["boost"], Quantity.GAUGE_PRESSURE, "--boost"),
                fuel=asked["fuel"],
                ambient=_value(asked["ambient"], Quantity.TEMPERATURE, "--ambient", "°C"),
                duration=_value(asked["minutes"], Quantity.DURATION, "--minutes", "min"),
                as_stated=as_stated,
            )
            with _open(given).read() as view:
                begun = time.monotonic()

                def say(what: str) -> None:
                    click.echo(f"{time.monotonic() - begun:5.0f} s  {what}", err=True)

                facts = gather(
                    view, car, request, settings, day, plan=not no_plan, patience=patience, say=say, labour=labour
                )
                say("setting the sheet")
            made = (job_sheet if reader == WORKSHOP else customer_page)(facts, words(language))
            write(made, day, settings.name, out)
        if wants_json:
            _print(explain_document(facts, out, len(made.blocks)))
        else:
            click.echo(f"wrote {out}")

    return explain


def _day(text: str | None) -> datetime.date:
    from graph.errors import UsageError

    if text is None:
        return datetime.date.today()
    try:
        return datetime.date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(f"--date: found {text!r}; expected is a date such as 2026-11-25") from error
