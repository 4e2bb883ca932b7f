"""Arrival: may the car go on the rollers, what is to be suspected, and where to look next."""

from __future__ import annotations

import streamlit as st

from graph.arrive import Reception, arrive
from graph.gate import CHECKS, REPAIRS
from graph.quantity import Quantity
from graph.recorded import Arrival
from graph.symptom import Knowledge
from ui import desk
from ui.arrival_record import on_record, places, record
from ui.asked import to_si
from ui.format import kilowatts, percent, power_unit
from ui.sheet_table import lead, note, table, trouble

SUSPECTS, LOOKS, REASONS = 8, 8, 3
MILLISECONDS = 60_000.0  # of a minute: durations are shown in milliseconds


def show() -> None:
    """Show the page."""
    cars = {c.id: c for c in desk.cars()}
    if not cars:
        st.title("No car yet")
        lead("Load the shop's sheets on the page parts, or the demo shop on the page cars.")
        return
    known = desk.knowledge()
    answer = st.container()
    car, arrival = _inputs(list(cars), known)
    both = sorted(set(arrival.present) & set(arrival.absent))
    if both:
        with answer:
            st.title("One sign cannot be there and away")
        trouble(f"Named both as seen and as not there: {', '.join(known.sign(k).name for k in both)}. Take one out.")
        return
    with st.spinner("weighing the signs"), desk.database().read() as view:
        reception = arrive(view, car, known, arrival)
    with answer:
        go = "may go on the rollers" if reception.gate.go else "does not go on the rollers yet"
        st.title(f"{car} {go}")
        low, high = kilowatts(reception.low), kilowatts(reception.high)
        note(f"It carries between {low} and {high} {power_unit()} crank; what is only claimed decides where.")
    left, right = st.columns([7, 5], gap="medium")
    with left:
        _looks(reception)
        _suspects(reception)
    with right:
        _gate(reception)
    places(reception)
    on_record(reception)
    record(car, reception, arrival)


def _inputs(cars: list[str], known: Knowledge) -> tuple[str, Arrival]:
    named = st.query_params.get("car", "")
    if named and named not in cars:
        trouble(f"The address asks for car '{named}'; on record are {', '.join(cars)}.")
    signs = {s.id: s.name for s in known.signs}
    inspections = {i.id: i.name for i in known.inspections}
    columns = st.columns([2, 5, 5], gap="small")
    with columns[0]:
        car = st.selectbox("Car", cars, index=cars.index(named) if named in cars else 0, key="arrived")
    named_signs = [s for s in st.query_params.get("shows", "").split(",") if s in signs]
    st.session_state.setdefault("present", named_signs)
    with columns[1]:
        present = st.multiselect("shows", list(signs), format_func=signs.__getitem__, key="present")
    with columns[2]:
        absent = st.multiselect(
            "was looked at for, and does not show", list(signs), format_func=signs.__getitem__, key="absent"
        )
    columns = st.columns([2, 5, 5], gap="small")
    with columns[0]:
        minutes = st.number_input(
            "minutes agreed", 5, 480, None, step=5, key="minutes", placeholder="as on record, else 60"
        )
    with columns[1]:
        checked = st.multiselect("looked at and fine", list(CHECKS), format_func=CHECKS.__getitem__, key="checked")
    with columns[2]:
        faulty = st.multiselect(
            "looked at and not fine",
            [c for c in CHECKS if c not in checked],
            format_func=CHECKS.__getitem__,
            key="faulty",
        )
    with st.expander("Inspections made and work done"):
        done = st.multiselect("inspections made", list(inspections), format_func=inspections.__getitem__, key="done")
        repaired = st.multiselect(
            "work done and recorded", list(REPAIRS), format_func=REPAIRS.__getitem__, key="repaired"
        )
    asked = {"car": car} | ({"shows": ",".join(present)} if present else {})
    if st.query_params.to_dict() != asked:
        st.query_params.from_dict(asked)
    return car, Arrival(
        present=tuple(present),
        absent=tuple(absent),
        done=tuple(done),
        checked=tuple(checked),
        faulty=tuple(faulty),
        repaired=tuple(repaired),
        agreed=None if minutes is None else to_si(minutes * MILLISECONDS, Quantity.DURATION),
    )


def _looks(reception: Reception) -> None:
    st.header("Look next")
    note("In the order of what a minute settles; enter each result above.")
    rows = [(look.name, _minutes(look.duration), look.why) for look in reception.looks[:LOOKS]]
    if rows:
        table(("look", "minutes", "what it settles"), rows, right=(1,))
    else:
        lead("Nothing that fits into the time agreed would settle more.")


def _minutes(duration: float) -> str:
    return f"{duration / 60.0:.0f}"


def _suspects(reception: Reception) -> None:
    st.header("Suspects")
    note("Several may be true at once.")
    table(
        ("suspect", "chance", "speaks for it", "speaks against it"),
        [
            (
                s.name,
                percent(s.probability),
                "; ".join(s.evidence_for[:REASONS]),
                "; ".join(s.evidence_against[:REASONS]),
            )
            for s in reception.suspects[:SUSPECTS]
        ],
        right=(1,),
    )


def _gate(reception: Reception) -> None:
    gate = reception.gate
    st.header("The roller gate")
    if gate.blocked_by:
        table(("blocked by",), [(text,) for text in gate.blocked_by])
    else:
        lead("Every check is made and nothing blocks.")
    st.subheader("Stop the run at")
    lead(*gate.stop_criteria)
    if gate.cautions:
        st.subheader("Cautions")
        lead(*gate.cautions)


if __name__ == "__main__":
    show()
