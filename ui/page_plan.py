"""What to fit: the cheapest set for the target with its price, shared labour and reasons, and what is left without a part."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace

import streamlit as st

from graph.plan.record import Plan, Step
from graph.plan.wish import Wishes
from graph.report import Verdict
from graph.service import Request
from ui import desk
from ui.asked import Asked
from ui.customer_words import LANGUAGES
from ui.errand import Errand, lane
from ui.explain_command import CUSTOMER, WORKSHOP
from ui.format import NOT_KNOWN, kilowatts, number, percent, power_unit, respoken
from ui.inputs import keep, kept
from ui.ladder import MARKS, WORDS, headline
from ui.plan_text import MOST_REASONS, _cautions, _headline, conflict_head
from ui.progress import watch
from ui.sheet_table import Markup, lead, link, note, table, trouble, unbroken

PLANS = "plans"
#: A language by its code, in its own words.
SPOKEN = {"en": "English", "de": "Deutsch"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What a plan on the page is asked for, apart from its power."""

    request: Request
    wishes: Wishes
    budget: float | None = None


def fit(asked: Asked, answer: st.delta_generator.DeltaGenerator) -> None:
    """Show the set of parts.

    Parameters
    ----------
    asked : Asked
        The question.
    answer : delta_generator
        Place of the heading.
    """
    terms = wished(asked, budget=True)
    errand = planned(asked, terms)
    plan: Plan | None = errand.news.best
    with answer:
        st.title(_title(plan, asked))
        note(_second(plan))
    watch(errand, plan, among=PLANS)
    if errand.news.done and plan is None and st.button("Search again", key="plan again"):
        lane(PLANS).again(_key(asked, terms))
        st.rerun()
    if plan is None:
        return
    if plan.steps:
        _steps(plan)
        _shared(plan)
        _left_out(plan, asked)
    _conflict(plan)
    if plan.proof:
        st.subheader("What is proven")
        lead(respoken(plan.proof))
    cautions = [line.removeprefix("- ") for line in _cautions(plan)[2:]]
    if cautions:
        st.subheader("With this work")
        lead(*cautions)
    _sheet(asked)


def wished(asked: Asked, *, budget: bool = False) -> Terms:
    """Side conditions of a plan, in a fold below the inputs."""
    places = [p.slot.name for p in desk.stated(asked.car, asked.request()).build.places]
    spend: float | None = None
    with st.expander("Side conditions"):
        columns = st.columns([3, 2, 4, 4], gap="small", vertical_alignment="bottom")
        with columns[0]:
            free = st.checkbox("the fuel may change", key=kept("free fuel", True))
            stock = st.checkbox("from the shelf only", key=kept("in stock", False))
        if budget:
            with columns[1]:
                most = st.number_input("spend at most", 0, 1_000_000, step=500, key=kept("budget", 0))
                spend = float(most) if most else None
        with columns[2]:
            stay = st.multiselect("places that stay as they are", places, key=kept(f"stay {asked.car}", []))
        with columns[3]:
            numbers = sorted(p.id for p in desk.parts() if not p.factory)
            forbid = st.multiselect("parts not to be fitted", numbers, key=kept("forbid", []))
        if budget:
            note("0 stands for no limit; prices with tax.")
    for key, value in (("free fuel", free), ("in stock", stock), (f"stay {asked.car}", stay), ("forbid", forbid)):
        keep(key, value)
    keep("budget", int(spend or 0))
    request = asked.request()
    return Terms(
        request=replace(request, fuel=None) if free else request,
        wishes=Wishes(keep=frozenset(stay), forbid=frozenset(forbid), in_stock=stock),
        budget=spend,
    )


def _key(asked: Asked, terms: Terms) -> tuple[object, ...]:
    return ("plan", desk.state(), asked.car, terms.request, terms.wishes, terms.budget, repr(desk.shop()))


def planned(asked: Asked, terms: Terms) -> Errand:
    """The search for a target, begun or found."""
    at_any_power = replace(terms.request, power=desk.platforms()[_platform(asked.car)].constants["factory power"])
    commission = desk.commission(asked.car, at_any_power, terms.wishes)
    return lane(PLANS).ask(_key(asked, terms), "plan", commission, terms.request.power, terms.budget)


def _platform(car: str) -> str:
    return next(c.platform for c in desk.cars() if c.id == car)


def _title(plan: Plan | None, asked: Asked) -> str:
    wanted = f"{kilowatts(asked.request().power)} {power_unit()}"
    if plan is None:
        return unbroken(f"What {asked.car} needs for {wanted}")
    return unbroken(_headline(plan).rstrip("."))


def _second(plan: Plan | None) -> str:
    if plan is None or plan.cost is None:
        return ""
    cost, after = plan.cost, plan.after
    said = [
        f"parts {number(cost.parts)}",
        f"labour {number(cost.labour / 3600.0, 1)} h, {number(cost.work)}",
        f"tax {number(cost.tax)}",
        f"no set costs less than {number(plan.lower_bound)}",
    ]
    if after is not None:
        said.append(
            f"then carries {kilowatts(after.carries)} {power_unit()}, holds the target "
            f"{percent(after.holds_probability)}"
        )
    return unbroken(" · ".join(said))


def _steps(plan: Plan) -> None:
    st.header("Fit these")
    rows: list[tuple[str | Markup, ...]] = []
    for step in plan.steps:
        without = "?" if step.skip_ceiling is None else kilowatts(step.skip_ceiling)
        why = respoken("; ".join(r.text for r in step.why[:MOST_REASONS]))
        rows.append(
            (
                step.slot,
                link(step.install, "parts", {"part": step.install}),
                step.name,
                number(step.price),
                number(step.labour / 3600.0, 1),
                "" if step.stock is None else str(step.stock),
                without,
                why,
            )
        )
    heads = ("place", "part", "", "net price", "hours", "stock", f"without it, {power_unit()}", "needed because")
    table(heads, rows, right=(3, 4, 5, 6))
    note("Without it: what the finished car carries if this part alone is left out.")
    tasks = [f"{step.slot}: {', '.join(step.tasks)}" for step in plan.steps if step.tasks]
    if tasks:
        with st.expander("Work that goes with the parts"):
            lead(*tasks)


def _shared(plan: Plan) -> None:
    if not plan.shared_labour:
        return
    saved = sum(s.saves for s in plan.shared_labour) / 3600.0
    st.subheader(f"Strip-downs paid once save {number(saved, 1)} hours")
    table(
        ("strip-down", "hours saved", "shared by"),
        [(s.operation, number(s.saves / 3600.0, 1), ", ".join(s.jobs)) for s in plan.shared_labour],
        right=(1,),
    )


def _left_out(plan: Plan, asked: Asked) -> None:
    """The finished car without some of its parts: what it carries then, and what stops it."""
    st.header("Leave parts out")
    by_slot = {step.slot: step for step in plan.steps}
    key = f"leave out {asked.car}"
    before = [slot for slot in st.session_state.get(f"kept {key}", []) if slot in by_slot]
    st.session_state.setdefault(key, before)
    st.session_state[key] = [slot for slot in st.session_state[key] if slot in by_slot]
    chosen = st.multiselect(
        "Not to be fitted", list(by_slot), key=key, format_func=lambda s: f"{s}, {by_slot[s].install}"
    )
    keep(key, chosen)
    if not chosen:
        note("Choose one or more; the finished car is checked without them.")
        return
    request = replace(terms_of(plan, asked), install=tuple(s.install for s in plan.steps if s.slot not in chosen))
    report, errand = desk.best(asked.car, request)
    left = _named([by_slot[s] for s in chosen])
    target = f"{kilowatts(plan.target.power)} {power_unit()}"
    carries = f"{kilowatts(report.carries)} {power_unit()}"
    st.subheader(unbroken(f"Without the {left} the finished car carries {carries} of {target}"))
    lead(unbroken(f"{headline(report)} Chance that it holds {target}: {percent(report.holds_probability)}."))
    short = [f for f in report.findings if f.verdict in (Verdict.EXCEEDED, Verdict.UNKNOWN)]
    if short:
        table(
            ("", "place", "part", "limit", f"alone, {power_unit()}", "used", "beyond it"),
            [
                (
                    f"{MARKS[f.verdict]} {WORDS[f.verdict]}",
                    f.slot,
                    f.part or "",
                    f.rule,
                    NOT_KNOWN if f.ceiling is None else kilowatts(f.ceiling),
                    "" if f.utilisation is None else percent(f.utilisation),
                    f.consequence,
                )
                for f in short
            ],
            right=(4, 5),
        )
    for warning in report.warnings:
        trouble(warning)
    watch(errand, report, among="checks", silent=True)


def terms_of(plan: Plan, asked: Asked) -> Request:
    """The question as the plan answers it: on its own fuel."""
    return replace(asked.request(), power=plan.target.power, fuel=plan.target.fuel.name)


def _named(steps: list[Step]) -> str:
    words = [s.slot for s in steps]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _conflict(plan: Plan) -> None:
    if plan.conflict:
        st.header(conflict_head(plan))
        table(("", "what"), [(r.because.value, respoken(r.text)) for r in plan.conflict])
    for head, other in (("Nearest to it, below the margins asked", plan.nearest), ("What keeps them", plan.instead)):
        if other is not None:
            st.header(head)
            lead(_headline(other))


def _sheet(asked: Asked) -> None:
    """The customer's page and the workshop's job sheet of the same facts."""
    st.header("On paper")
    columns = st.columns([3, 2, 2, 5], gap="small", vertical_alignment="bottom")
    with columns[0]:
        reader = st.selectbox("Sheet for the", [CUSTOMER, WORKSHOP], key=kept("reader", CUSTOMER))
    with columns[1]:
        language = st.selectbox("in", LANGUAGES, format_func=SPOKEN.__getitem__, key=kept("language", LANGUAGES[0]))
    keep("reader", reader)
    keep("language", language)
    shop, day = desk.shop(), datetime.date.today()
    key = ("sheet", desk.state(), asked.car, asked.request(), repr(shop), day, reader, language)
    wanted = st.session_state.get("sheet wanted")
    with columns[2]:
        if st.button("Make the sheet", key="make sheet", width="stretch"):
            wanted = st.session_state["sheet wanted"] = key
    if wanted != key:
        note(f"As PDF and as one HTML file, from {shop.name}'s settings.")
        return
    errand = lane(PLANS).ask(key, "sheet", desk.address(), asked.car, asked.request(), shop, day, reader, language)
    made = errand.news.best
    watch(errand, made, among=PLANS)
    if made is not None:
        name = f"{asked.car} {asked.power:g} kW {reader} {language}"
        columns = st.columns([2, 2, 8], gap="small")
        with columns[0]:
            st.download_button("PDF", made.pdf, f"{name}.pdf", "application/pdf", key="pdf", width="stretch")
        with columns[1]:
            st.download_button("HTML", made.html, f"{name}.html", "text/html", key="html", width="stretch")
