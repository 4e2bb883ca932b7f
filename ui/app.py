"""The pages: plain navigation, one word a page. Started by ``pinchpoint ui``."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import streamlit as st

from graph.errors import PinchpointError
from ui.admission import admitted
from ui.format import choose
from ui.preference import read_units
from ui.sheet_table import trouble
from ui.sign_in import actor
from ui.theme import style

HERE = Path(__file__).resolve().parent
#: Page that opens at the bare address; typed after it, its word leads there as well.
FIRST = "page_cars.py"
#: Page file -> (its word, its path in the address, the module without which it says nothing).
PAGES = {
    FIRST: ("cars", "start", "graph.service"),
    "page_check.py": ("plan", "plan", "graph.check"),
    "page_arrival.py": ("arrival", "arrival", "graph.diagnose"),
    "page_dyno.py": ("dyno", "dyno", "graph.pull"),
    "page_parts.py": ("parts", "parts", "ingest.book"),
    "page_ask.py": ("ask", "ask", "graph.projection.question"),
    "page_settings.py": ("settings", "settings", "ui.preference"),
    "page_people.py": ("people", "people", "graph.store"),
    "page_trail.py": ("trail", "trail", "graph.store"),
}
#: Pages for those who look after the database; the page settings leads to them.
ASIDE = ("people", "trail")


def present(module: str) -> bool:
    """True if a module of this program is there."""
    try:
        return importlib.util.find_spec(module) is not None
    except ModuleNotFoundError:
        return False


def main() -> None:
    """Show the page that the address names."""
    st.set_page_config(page_title="Pinchpoint", layout="wide", initial_sidebar_state="collapsed")
    style()
    if not admitted():
        return
    choose(read_units(actor().name))
    pages = [
        st.Page(
            HERE / file,
            title=word,
            url_path=path,
            default=file == FIRST,
            visibility="hidden" if path in ASIDE else "visible",
        )
        for file, (word, path, module) in PAGES.items()
        if (HERE / file).is_file() and present(module)
    ]
    by_its_word = st.Page(HERE / FIRST, title="cars", url_path="cars", visibility="hidden")
    page = st.navigation([*pages, by_its_word], position="top")
    try:
        page.run()
    except PinchpointError as error:
        trouble(str(error))


main()
