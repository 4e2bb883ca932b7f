"""Settings: units of the person who looks, and what the shop prints and charges."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import streamlit as st

from graph.actor import Role
from graph.errors import PinchpointError
from graph.quantity import Quantity
from ui import desk
from ui.format import CHOICES, choose
from ui.preference import NAMES, read_units, write_units
from ui.sheet_table import lead, note, trouble
from ui.shop_settings import RULES, Rule, ShopSettings, write_shop
from ui.sign_in import actor

WORDS = {Quantity.POWER: "Power", Quantity.GAUGE_PRESSURE: "Boost", Quantity.TORQUE: "Torque"}
SHARES = {
    "tax": "Tax, %",
    "overrun": "A bill may exceed its offer by, %",
    "deposit": "Deposit with the order, %",
    "price_rise": "Parts may rise after that by, %",
}
ASKS = {
    "law": "Roadworthiness and emissions",
    "insurance": "Insurance",
    "warranty": "Warranty",
}


def show() -> None:
    """Show the page."""
    st.title("Settings")
    _units()
    _shop()


def _units() -> None:
    st.header("Your units")
    person = actor().name
    known = read_units(person)
    chosen: dict[Quantity, str] = {}
    for column, quantity in zip(st.columns([2, 2, 2, 6], gap="small"), NAMES, strict=False):
        offered = list(CHOICES[quantity])
        with column:
            chosen[quantity] = st.selectbox(
                WORDS[quantity],
                offered,
                index=offered.index(known.get(quantity, offered[0])),
                key=f"unit {NAMES[quantity]}",
            )
    note(
        "Kept for you on this machine and used on every page. Sheets for customers and addresses of pages keep kW and bar."
    )
    if chosen != {q: known.get(q, next(iter(CHOICES[q]))) for q in NAMES}:
        write_units(person, chosen)
        choose(chosen)
        st.rerun()


def _shop() -> None:
    st.header("The shop")
    file = desk.shop_file()
    shop = desk.shop()
    note(f"Kept in {file}." if file.is_file() else "These are the demo shop's; what you keep here replaces them.")
    with st.form("shop", border=False):
        columns = st.columns([4, 4, 2, 2], gap="small")
        with columns[0]:
            name = st.text_input("Name", shop.name, key="shop name")
        with columns[1]:
            address = st.text_input("Address", shop.address, key="shop address")
        with columns[2]:
            currency = st.text_input("Currency", shop.currency, key="shop currency", max_chars=3)
        with columns[3]:
            rate = st.number_input("Hour of labour, net", 0.0, 10_000.0, float(shop.hourly_rate), key="shop rate")
        shares: dict[str, float] = {}
        for column, (field, words) in zip(st.columns(4, gap="small"), SHARES.items(), strict=True):
            with column:
                shares[field] = st.number_input(
                    words, 0.0, 100.0, round(getattr(shop, field) * 100.0, 3), step=0.5, key=f"shop {field}"
                )
        st.subheader("Rules that you state")
        note("Printed only with their source; what is left empty is printed as not checked for your country.")
        rules: dict[str, Rule] = {}
        for rule in RULES:
            before = shop.rules.get(rule)
            columns = st.columns([7, 5], gap="small")
            with columns[0]:
                text = st.text_input(ASKS.get(rule, rule), before.text if before else "", key=f"rule {rule}")
            with columns[1]:
                source = st.text_input(
                    f"Source of the rule on {rule}", before.source if before else "", key=f"source {rule}"
                )
            if text.strip() or source.strip():
                rules[rule] = Rule(text=text.strip(), source=source.strip())
        if st.form_submit_button("Keep", key="keep shop"):
            shared = {field: round(value / 100.0, 6) for field, value in shares.items()}
            _keep(
                replace(
                    shop,
                    name=name.strip(),
                    address=address.strip(),
                    currency=currency.strip().upper(),
                    hourly_rate=rate,
                    rules=MappingProxyType(rules),
                    tax=shared["tax"],
                    overrun=shared["overrun"],
                    deposit=shared["deposit"],
                    price_rise=shared["price_rise"],
                )
            )


def _keep(shop: ShopSettings) -> None:
    incomplete = [name for name, rule in shop.rules.items() if not (rule.text and rule.source)]
    if incomplete:
        trouble(f"The rule on {incomplete[0]} needs a text and its source; nothing was kept.")
        return
    try:
        with desk.database().read() as view:
            view.actor.need("change the shop's settings", Role.ADMINISTER)
        write_shop(desk.shop_file(), shop)
    except PinchpointError as error:
        trouble(str(error))
        return
    lead("Kept.")


if __name__ == "__main__":
    show()
