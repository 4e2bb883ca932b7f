"""Questions about every part, answered by look-ups: on random books the same as from the whole book, row by row.

The oracle is the network of all records, which knows nothing of the tables that the look-ups use.
"""

import random

import pytest
from sqlalchemy import delete, text, update

from graph.errors import UnknownName
from graph.kinds import discover
from graph.model import (
    Car,
    Condition,
    Curve,
    Evidence,
    EvidenceKind,
    Installed,
    Meaning,
    Part,
    Platform,
    Rating,
    Relation,
    RelationKind,
    Slot,
)
from graph.projection import gather, question, survey
from graph.projection.nearby import ahead, behind, parts_for
from graph.store import SheetRow, open_database, shelf
from graph.store import table as t
from graph.store.schema import move

KINDS = ("tank_pump", "pump_controller", "clutch", "air_box")
RATINGS = ("current", "flow", "torque")
WHOLE = (
    (survey.survey_usable, question.no_usable_rating),
    (survey.survey_circles, question.goes_in_circles),
    (survey.survey_hanging, question.hangs_in_the_air),
)


class Dice:
    """Random records of a small book."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.numbers = [f"A{i}" for i in range(self.random.randrange(2, 14))]
        self.named = [*self.numbers, "Z1", "Z2"]

    def place(self) -> str:
        return f"hand.csv, row {self.random.randrange(9)}"

    def rating(self, name: str) -> Rating:
        low, high = float(self.random.randrange(10, 30)), float(self.random.randrange(10, 30))
        names = self.random.sample(["pressure", "voltage", "temperature", "fluid"], self.random.randrange(3))
        return Rating(
            name=name,
            value=Curve(x=(1.0, 2.0), y=(low, high)) if self.random.random() < 0.2 else low,
            evidence=Evidence(kind=EvidenceKind.OWN_BENCH, source=self.place()),
            meaning=self.random.choice(list(Meaning)),
            conditions=tuple(Condition(name=n, value=self.random.choice([1.0, None])) for n in names),
        )

    def relation(self) -> Relation:
        kind = self.random.choice([*RelationKind, *[RelationKind.REQUIRES] * 3])
        if kind is RelationKind.REQUIRES and self.random.random() < 0.1:
            return Relation(kind=kind, text="something")
        if kind is RelationKind.REQUIRES and self.random.random() < 0.3:
            amount = float(self.random.randrange(10, 32))
            where, what = self.random.choice(KINDS), self.random.choice(RATINGS)
            return Relation(kind=kind, slot=where, rating=what, at_least=amount, text="as much")
        chosen = self.random.sample(self.named, self.random.choice([1, 1, 1, 2]))
        return Relation(kind=kind, part=" | ".join(chosen), text=f"text {self.random.randrange(5)}")

    def part(self, number: str) -> Part:
        return Part(
            id=number,
            kind="spaceship" if self.random.random() < 0.05 else self.random.choice(KINDS),
            name=f"name {number}",
            fits=tuple(self.random.sample(["C1", "C2", "C3", "HM"], self.random.choice([0, 1, 1, 2]))),
            ratings=tuple(self.rating(n) for n in self.random.choices(RATINGS, k=self.random.randrange(4))),
            relations=tuple(self.relation() for _ in range(self.random.choice([0, 0, 1, 2]))),
            factory=self.random.random() < 0.2,
            price=self.random.choice([None, float(self.random.randrange(5))]),
            source=self.place(),
        )

    def platform(self, number: int) -> Platform:
        slots = tuple(
            Slot(name=f"{kind} {i}", kind=kind, factory_part=self.random.choice([None, *self.named]))
            for i, kind in enumerate(self.random.sample(KINDS, 2))
        )
        codes = tuple(self.random.sample(["C1", "C2", "HM"], 2))
        return Platform(id=f"P{number}", name="", codes=codes, constants={}, curves={}, slots=slots, source="p.csv")

    def row(self, number: int) -> SheetRow:
        outcome = self.random.choice(["held", "loaded"])
        return SheetRow(file="a.csv", sheet="", number=number, cells={"No.": f"A{number}"}, outcome=outcome, note="why")

    def load(self, unit, *, cars: bool) -> None:
        load = unit.record_load(
            name=self.random.choice(["a.csv", "b.csv"]), sha256="0" * 64, who="test", tool_version="0"
        )
        unit.record_rows(load, [self.row(i) for i in range(self.random.randrange(3))])
        unit.add_parts(load, [self.part(n) for n in self.numbers if self.random.random() < 0.7])
        if cars:
            unit.add_platforms(load, [self.platform(i) for i in range(2)])
            has = (Installed(slot="x", part=self.random.choice(self.named)),)
            unit.add_cars(load, [Car(id="c", platform="P0", name="", installed=has)])


@pytest.fixture(params=["sqlite", "postgres"])
def database(request, tmp_path):
    url = f"sqlite:///{tmp_path}/x.sqlite" if request.param == "sqlite" else request.getfixturevalue("postgres_url")
    opened = open_database(url)
    yield opened
    opened.engine.dispose()


def _agree_on_the_whole(view, whole) -> None:
    for mine, oracle in WHOLE:
        full = oracle(whole)
        assert mine(view) == full
        for first in (0, 1, 3):
            begun = mine(view, first)
            assert (begun.rows, begun.count) == (full.rows[:first], len(full.rows))


def _agree_on_parts(view, whole) -> None:
    for number in (p.id for p in whole.parts):
        assert question.pulls_along(ahead(view, number), number) == question.pulls_along(whole, number)
        near = question.breaks_if_withdrawn(behind(view, number), number)
        assert set(near.rows) == set(question.breaks_if_withdrawn(whole, number).rows)


def _agree_on_places(view, whole) -> None:
    for kind in (discover()[name] for name in KINDS):
        for spec in kind.ratings:
            for code in (None, "C1", "HM", "P0"):
                wanted = {"code": code, "rating": spec.name}
                try:
                    full = question.fits_slot_and_carries(whole, kind, 20.0, **wanted)
                except UnknownName:
                    with pytest.raises(UnknownName):
                        parts_for(view, kind, spec, 20.0, code)
                    continue
                for first in (None, 2):
                    facts, left = parts_for(view, kind, spec, 20.0, code, first)
                    begun = question.fits_slot_and_carries(facts, kind, 20.0, **wanted).begun(first, left)
                    assert (begun.rows, begun.count) == (full.rows[:first], len(full.rows))


@pytest.mark.parametrize("seed", range(6))
def test_random_books_after_every_load(database, seed, monkeypatch) -> None:
    monkeypatch.setattr(shelf, "MANY", 2000 * (seed % 2))  # by the parts, and by the values
    dice = Dice(seed)
    for round_ in range(3):
        with database.write() as unit:
            dice.load(unit, cars=round_ == 1)
        with database.read() as view:
            whole = gather(view)
            _agree_on_the_whole(view, whole)
            _agree_on_parts(view, whole)
            _agree_on_places(view, whole)


def test_a_database_from_before_gives_the_same_answers(database) -> None:
    dice = Dice(11)
    for cars in (True, False):
        with database.write() as unit:
            dice.load(unit, cars=cars)
    move(database.engine, "0004", down=True)
    move(database.engine, "head")
    with database.read() as view:
        whole = gather(view)
        _agree_on_the_whole(view, whole)
        _agree_on_places(view, whole)


def test_doubts_that_are_for_nothing_change_no_answer(database) -> None:
    dice = Dice(3)
    with database.write() as unit:
        dice.load(unit, cars=True)
    with database.engine.begin() as connection:
        connection.execute(delete(t.doubt))
        rows = [{"topic": topic, "number": n} for topic in ("unknown", "circle", "vague") for n in dice.named]
        connection.execute(t.doubt.insert(), rows)
    with database.read() as view:
        _agree_on_the_whole(view, gather(view))


def test_a_failed_load_leaves_no_doubt_behind(database) -> None:
    def load_and_fail() -> None:
        with database.write() as unit:
            Dice(5).load(unit, cars=True)
            raise UnknownName("load", "this one", [])

    with pytest.raises(UnknownName):
        load_and_fail()
    with database.engine.connect() as connection:
        for name in ("doubt", "mention", "fitment", "outline"):
            assert connection.scalar(text(f"SELECT count(*) FROM {name}")) == 0


def test_without_the_outline_a_poor_part_would_be_missed(database) -> None:
    """The look-up does rest on what is kept: taken away, the answer is another."""
    with database.write() as unit:
        load = unit.record_load(name="a.csv", sha256="0" * 64, who="test", tool_version="0")
        unit.add_parts(load, [Part(id="A1", kind="clutch", name="", source="hand.csv, row 1")])
    with database.read() as view:
        assert survey.survey_usable(view).count > 0
    with database.engine.begin() as connection:
        connection.execute(update(t.part_revision).values(outline_id=None))
    with database.read() as view:
        assert survey.survey_usable(view).count == 0
