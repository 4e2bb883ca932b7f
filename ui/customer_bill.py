"""What a way costs: lines that add up, the range of what it costs in the end, and the cap."""

from __future__ import annotations

import math

from graph.errors import PinchpointError
from graph.plan.record import Plan
from graph.plan.wish import ShopTerms
from graph.quote import Quote, quote
from ui.customer_facts import Facts
from ui.customer_options import Option
from ui.shop_settings import ShopSettings

#: Steps of deposits, of ranges and of the cap of a bill.
STEP = 50.0
CALIBRATION = "calibration"
#: A cent, and a second of labour.
CENT, SECOND = 0.01, 1.0


class SumMismatch(PinchpointError):
    """Amounts of a plan do not add up; no page is made of them.

    Parameters
    ----------
    what : str
        Which sum.
    stated, worked : float
        As the plan states it and as its parts give it.
    """

    def __init__(self, what: str, stated: float, worked: float) -> None:
        super().__init__(
            f"the bill does not add up: {what} is stated as {stated:.2f} and works out as {worked:.2f};"
            " ask for the plan again, and load the shop's sheets anew if it stays so"
        )


def refuse_wrong_sums(plan: Plan, shop: ShopSettings) -> None:
    """Work every sum of a plan again from its steps and the shop's rates.

    Parameters
    ----------
    plan : Plan
        With its cost; a plan without one passes.
    shop : ShopSettings
        Rate and tax.

    Raises
    ------
    SumMismatch
        Parts, labour, work, net, tax or total differ from what their parts give.
    """
    cost = plan.cost
    if cost is None:
        return
    labour = sum(s.labour for s in plan.steps) - sum(s.saves for s in plan.shared_labour)
    parts = sum(s.price for s in plan.steps)
    work = labour / 3600.0 * shop.hourly_rate
    tax = (parts + work) * shop.tax
    for what, stated, worked, width in (
        ("the price of the parts", cost.parts, parts, CENT),
        ("the labour in seconds", cost.labour, labour, SECOND),
        ("the work", cost.work, work, CENT),
        ("the net price", cost.net, parts + work, CENT),
        ("the tax", cost.tax, tax, CENT),
        ("the total", cost.total, parts + work + tax, CENT),
    ):
        if not abs(stated - worked) <= width:
            raise SumMismatch(what, stated, worked)


def refuse_wrong_offer(facts: Facts) -> None:
    """Work the sums of every way again before a sheet is made of them.

    Parameters
    ----------
    facts : Facts
        With the ways.

    Raises
    ------
    SumMismatch
        A way's amounts do not add up.
    """
    for option in () if facts.offer is None else facts.offer.options:
        refuse_wrong_sums(option.plan, facts.shop)


def bill(plan: Plan, shop: ShopSettings) -> dict[str, float]:
    """Cost of a plan in whole units of currency.

    Parameters
    ----------
    plan : Plan
        With its cost.
    shop : ShopSettings
        Share of the deposit.

    Returns
    -------
    dict of str to float
        ``parts``, ``rollers``, ``work``; their sum ``net``; ``tax``; ``total`` of both; ``deposit`` [currency]. Each
        line is rounded first and then added, so that the sum printed is the sum of what is printed.
    """
    cost = plan.cost
    if cost is None:
        return {}
    rollers = sum(s.price for s in plan.steps if s.slot == CALIBRATION)
    lines = {
        "parts": float(round(cost.parts - rollers)),
        "rollers": float(round(rollers)),
        "work": float(round(cost.work)),
    }
    net = sum(lines.values())
    tax = float(round(cost.tax))
    total = net + tax
    return {**lines, "net": net, "tax": tax, "total": total, "deposit": math.ceil(total * shop.deposit / STEP) * STEP}


def quoted(facts: Facts, option: Option) -> Quote | None:
    """Range and cap of a way.

    Parameters
    ----------
    facts : Facts
        With the shop's experience.
    option : Option
        The way.

    Returns
    -------
    Quote or None
        None where the way has no cost.
    """
    shop = facts.shop
    terms = ShopTerms(hourly_rate=shop.hourly_rate, tax=shop.tax, currency=shop.currency)
    kinds = {s.slot: facts.kind(s.slot) for s in option.plan.steps}
    return quote(option.plan, kinds, facts.experience, terms, overrun=shop.overrun, step=STEP)


def outward(low: float, high: float) -> tuple[float, float]:
    """Ends of a range on the grid of :data:`STEP`, never narrower than it is [currency]."""
    return math.floor(low / STEP) * STEP, math.ceil(high / STEP) * STEP
