"""What is kept of an arrived car, on its page: looks, facts and changes of the plan, each with who and when."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

import streamlit as st

from graph.arrive import Reception
from graph.errors import PinchpointError
from graph.model import Belief
from graph.note import FACTS, Fact, Look, Photo, PlanChange
from graph.recorded import Arrival, facts_of
from graph.store.notebook import add_notes
from ingest.photo import keep_photo
from ui import desk
from ui.arrival_document import caution_codes
from ui.caution import CAUTIONS
from ui.format import kilowatts, power_unit
from ui.record_commands import photo_folder
from ui.sheet_table import lead, note, table, trouble
from ui.upload import safe_name

BELIEFS = {
    Belief.UNKNOWN: "?",
    Belief.CLAIMED: "○",
    Belief.SEEN: "◐",
    Belief.LABEL_READ: "◉",
    Belief.MEASURED: "●",
}
NONE = "not known"
PICTURES = ["jpg", "jpeg", "png", "webp", "heic", "pdf"]


def keep(notes: Iterable[Look | Fact | PlanChange]) -> None:
    """Keep notes and show the page anew, or say why not.

    Parameters
    ----------
    notes : iterable of Look, Fact or PlanChange
        What was entered.
    """
    from ui.cli import version
    from ui.local_user import local_user

    try:
        with desk.database().write() as unit:
            add_notes(unit, notes, who=local_user(), tool_version=version())
    except PinchpointError as error:
        trouble(str(error))
        return
    st.rerun()


def record(car: str, reception: Reception, said: Arrival) -> None:
    """Forms that keep what was found.

    Parameters
    ----------
    car : str
        Id of the car.
    reception : Reception
        The answer so far.
    said : Arrival
        What stands in the page's own fields and is not kept yet.
    """
    st.header("Keep on record")
    note("Everything is kept with who and when; nothing is ever overwritten.")
    with desk.database().read() as view:
        known = {f.key: f.text for f in view.facts(car)}
    pending = [f for f in facts_of(car, said) if known.get(f.key) != f.text]
    if pending and st.button(f"Keep what is said above ({len(pending)})", key="keep signs"):
        keep(pending)
    with st.expander("A look at one place"):
        _look_form(car, reception)
    with st.expander("A fact about the car"):
        _fact_form(car)
    with st.expander("A change of the plan: finding, place, price"):
        _change_form(car, reception)


def _look_form(car: str, reception: Reception) -> None:
    slots = [s.slot for s in reception.standings]
    slot = st.selectbox("place", slots, key="look slot")
    kind = next(p.slot.kind for p in reception.places if p.slot.name == slot)
    numbers = {p.id: f"{p.id} {p.name}" for p in desk.parts() if p.kind == kind}
    with st.form("look", border=False):
        columns = st.columns(2, gap="small")
        with columns[0]:
            belief = st.selectbox("how well known", [b.value for b in Belief], index=2, key="look belief")
            part = st.selectbox("part", [NONE, *numbers], format_func=lambda n: numbers.get(n, n), key="look part")
            by = st.text_input("who looked", key="look by")
        with columns[1]:
            says = st.text_input("what was said, or its label says", key="look says")
            condition = st.text_input("condition", key="look condition")
            instrument = st.text_input("measured with", key="look instrument")
        fitted = st.checkbox("fitted or refitted just now: earlier pulls say nothing of it", key="look fitted")
        files = st.file_uploader("photographs", type=PICTURES, accept_multiple_files=True, key="look photos")
        sent = st.form_submit_button("Keep this look")
    if not sent:
        return
    try:
        look = Look(
            car=car,
            slot=slot,
            belief=Belief(belief),
            part=None if part == NONE else part,
            claim=says,
            condition=condition,
            instrument=instrument,
            photos=tuple(_kept(f.name, f.getvalue()) for f in files or ()),
            fitted=fitted,
            by=by,
        )
    except PinchpointError as error:
        trouble(str(error))
        return
    keep([look])


def _kept(name: str, content: bytes) -> Photo:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / safe_name(name)
        path.write_bytes(content)
        return keep_photo(path, photo_folder(desk.address()))


def _fact_form(car: str) -> None:
    asked = {k: text for k, text in FACTS.items() if k != "agreed minutes"}
    with st.form("fact", border=False, clear_on_submit=True):
        key = st.selectbox("fact", list(asked), format_func=asked.__getitem__, key="fact key")
        text = st.text_input("what was found", key="fact text")
        by = st.text_input("who says it", key="fact by")
        sent = st.form_submit_button("Keep this fact")
    if not sent:
        return
    try:
        keep(facts_of(car, Arrival(), [(key, text)], by))
    except PinchpointError as error:
        trouble(str(error))


def _change_form(car: str, reception: Reception) -> None:
    faults = {f.id: f.name for f in desk.knowledge().faults}
    with st.form("change", border=False, clear_on_submit=True):
        slot = st.selectbox("place", [s.slot for s in reception.standings], key="change slot")
        finding = st.text_input("what was found", key="change finding")
        action = st.text_input("what is done about it", key="change action")
        price = st.number_input("net change of the price", step=5.0, key="change price")
        fault = st.selectbox(
            "fault that it confirms", [NONE, *faults], format_func=lambda f: faults.get(f, f), key="change fault"
        )
        agreed = st.checkbox("the customer has agreed", key="change agreed")
        sent = st.form_submit_button("Keep this change")
    if not sent:
        return
    if not finding.strip():
        trouble("Say what was found; a change of the plan without a finding cannot be explained to the customer.")
        return
    keep(
        [
            PlanChange(
                car=car,
                slot=slot,
                finding=finding.strip(),
                action=action.strip(),
                price=float(price),
                agreed=agreed,
                fault=None if fault == NONE else fault,
            )
        ]
    )


def on_record(reception: Reception) -> None:
    """Facts, checks of fitting and changes of the plan that are on record."""
    if reception.facts:
        st.header("Noted of the car")
        table(("fact", "found", "by", "when"), [(FACTS[k], f.text, f.by, f.at) for k, f in reception.facts.items()])
    if reception.missing:
        note(f"Not noted yet: {'; '.join(reception.missing)}.")
    if reception.changes:
        st.header("Changes of the plan")
        table(
            ("place", "finding", "action", "net", "agreed", "by", "when"),
            [
                (c.slot, c.finding, c.action, f"{c.price:+.2f}", "yes" if c.agreed else "not yet", c.by, c.at)
                for c in reception.changes
            ],
            right=(3,),
        )
        agreed, still_open = (sum(c.price for c in reception.changes if c.agreed is state) for state in (True, False))
        note(f"Net {agreed:+.2f} agreed, {still_open:+.2f} open.")
    if reception.mistakes:
        st.header("Was it fitted right?")
        note("Of every part that is not the factory's, or is said not to be. Letters: cautions below the table.")
        table(
            ("place", "usual mistake", "check", "cautions"),
            [(m.slot, m.mistake, m.check, " ".join(caution_codes(m))) for m in reception.mistakes],
        )
        codes = {code for m in reception.mistakes for code in caution_codes(m)}
        lead(*(f"{code}: {text}" for code, text in CAUTIONS.items() if code in codes))


def places(reception: Reception) -> None:
    """Every place with how well it is known: measured, seen and told apart."""
    st.header("What is known of each place")
    measured, seen, told, nobody = (
        sum(s.belief in beliefs for s in reception.standings)
        for beliefs in (
            {Belief.MEASURED},
            {Belief.SEEN, Belief.LABEL_READ},
            {Belief.CLAIMED},
            {Belief.UNKNOWN},
        )
    )
    note(
        f"{measured} measured, {seen} seen, {told} told and judged as the factory's, "
        f"{nobody} that nobody has looked at, taken as the factory's."
    )
    order = list(BELIEFS)
    listed = sorted(reception.standings, key=lambda s: -order.index(s.belief))
    table(
        (
            "place",
            "belief",
            "part it is judged as",
            f"stops at {power_unit()}",
            "said or missing",
            "condition",
            "by",
            "when",
        ),
        [
            (
                s.slot,
                f"{BELIEFS[s.belief]} {s.belief.value}",
                "" if s.part is None else f"{s.part.id} {s.part.name}",
                "" if s.stops is None else kilowatts(s.stops),
                s.taken_as or s.claim,
                "; ".join(t for t in (s.condition, s.instrument, _pictures(len(s.photos))) if t),
                s.by,
                s.at,
            )
            for s in listed
        ],
        right=(3,),
    )


def _pictures(count: int) -> str:
    return "" if count == 0 else "1 photograph" if count == 1 else f"{count} photographs"
