"""Settings: units of the person who looks, and what the shop prints and charges."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import streamlit as st

from graph.actor import Role
from graph.errors import PinchpointError
from graph.quantity import Quantity
from ui import desk
from ui.format import CHOICES, choose
from ui.preference import NAMES, read_units, write_units
from ui.sheet_table import Markup, lead, link, note, trouble
from ui.shop_settings import RULES, Rule, ShopSettings, state_of, write_logo, write_shop
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
    "overrun": "A bill above its offer",
}
NUMBERS = {
    "oil_distance": "Oil change every, km",
    "check_distance": "First check after, km",
    "warm_oil": "Full power from an oil temperature of, °C",
}
SEEN = "shop state seen"


def show() -> None:
    """Show the page."""
    st.title("Settings")
    _units()
    _shop()
    _aside()


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
    state = state_of(file)
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
        numbers: dict[str, float | None] = {}
        columns = list(st.columns(4, gap="small"))
        with columns[0]:
            days = st.number_input("Prices hold for, days", 1, 365, int(shop.valid_days), key="shop valid_days")
        for column, (field, words) in zip(columns[1:], NUMBERS.items(), strict=True):
            with column:
                known = getattr(shop, field)
                value = None if known is None else float(known)
                numbers[field] = st.number_input(
                    words, 0.0, 1e5, value, step=1.0, key=f"shop {field}", placeholder="not printed"
                )
        columns = st.columns([6, 6], gap="small", vertical_alignment="bottom")
        with columns[0]:
            mark = st.file_uploader(
                "Logo for the sheets: SVG, PNG or JPEG", type=["svg", "png", "jpg"], key="shop mark"
            )
        with columns[1]:
            known = Path(shop.logo).name if shop.logo else ""
            without = st.checkbox(f"no logo any more; now {known}", key="no mark") if known else False
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
        # The state is fixed when the form is drawn, so it is the one that the reader has seen.
        if st.form_submit_button("Keep", key="keep shop", on_click=_seen, args=(state,)):
            shared = {field: round(value / 100.0, 6) for field, value in shares.items()}
            kept = None if mark is None else (Path(mark.name).suffix.lower(), mark.getvalue())
            _keep(
                replace(
                    shop,
                    logo="" if without else shop.logo,
                    valid_days=int(days),
                    oil_distance=numbers["oil_distance"],
                    check_distance=numbers["check_distance"],
                    warm_oil=numbers["warm_oil"],
                    name=name.strip(),
                    address=address.strip(),
                    currency=currency.strip().upper(),
                    hourly_rate=rate,
                    rules=MappingProxyType(rules),
                    tax=shared["tax"],
                    overrun=shared["overrun"],
                    deposit=shared["deposit"],
                    price_rise=shared["price_rise"],
                ),
                kept,
            )


def _seen(state: str) -> None:
    st.session_state[SEEN] = state


def _keep(shop: ShopSettings, mark: tuple[str, bytes] | None) -> None:
    incomplete = [name for name, rule in shop.rules.items() if not (rule.text and rule.source)]
    if incomplete:
        trouble(f"The rule on {incomplete[0]} needs a text and its source; nothing was kept.")
        return
    try:
        with desk.database().read() as view:
            view.actor.need("change the shop's settings", Role.ADMINISTER)
        if mark is not None:
            shop = replace(shop, logo=str(write_logo(desk.shop_file().parent, *mark, shop.name)))
        write_shop(desk.shop_file(), shop, seen=st.session_state.get(SEEN))
    except PinchpointError as error:
        trouble(str(error))
        return
    lead("Kept.")


def _aside() -> None:
    """Ways to the pages of those who look after the database."""
    with desk.database().read() as view:
        if not view.actor.may(Role.ADMINISTER):
            return
    st.header("Who looks after the database")
    lead(
        Markup(f"{link('Who may do what', 'people', {})}: people and their roles."),
        Markup(f"{link('What was done', 'trail', {})}: every load, correction and grant, with who and when."),
    )


if __name__ == "__main__":
    show()
