"""Studies: the same answers as single assessments, the same bits whatever the workers, the cluster or a stop."""

import pickle
from types import MappingProxyType

import pytest

from graph.batch import run
from graph.errors import OutOfRange, UsageError
from graph.service import Request, assess
from graph.study import Case, Outcome, design, fingerprint, outcome

POWERS = (255e3, 300e3, 345e3)
CASES = [
    Case(car=car, day=day, request=Request(power=power, boost=2.0e5, fuel=fuel, ambient=ambient, install=install))
    for car, install in (("car-a", ()), ("car-c", ("PY-3110",)))
    for fuel in ("ron98", "e30")
    for day, ambient in (("mild", 293.15), ("hot", 313.15))
    for power in POWERS
]


@pytest.fixture(scope="module")
def study(demo_database):
    with demo_database.read() as view:
        return design(view, CASES, chunk=5)


@pytest.fixture(scope="module")
def alone(study):
    return [list(chunk) for chunk in run(study)]


def bits(chunks):
    return b"".join(pickle.dumps(repr(o)) for chunk in chunks for o in chunk)


def test_every_row_says_what_a_single_assessment_says(alone, shop):
    """The other way to the same answer: each question put on its own, nothing shared, nothing remembered."""
    found = [o for chunk in alone for o in chunk]
    assert len(found) == len(CASES)
    for case, row in list(zip(CASES, found, strict=True))[::5]:
        report = assess(shop, case.car, case.request, suggest=False)
        assert row.carries == pytest.approx(report.carries, rel=1e-12)
        assert row.makes == pytest.approx(report.makes.power, rel=1e-12)
        assert row.reachable is report.reachable
        assert (row.weakest, row.weakest_part) == (report.weakest.slot, report.weakest.part)
        assert row.weakest_ceiling == pytest.approx(report.weakest.ceiling, rel=1e-12)
        assert row.carries_low is None


def test_samples_are_those_of_a_single_assessment(demo_database, shop):
    cases = [Case(car="car-a", request=Request(power=p, boost=2.0e5)) for p in (240e3, 262e3)]
    study = design(shop, cases, samples=2000)
    for case, row in zip(cases, (o for chunk in run(study) for o in chunk), strict=True):
        report = assess(shop, case.car, case.request, suggest=False)
        assert row == outcome(report)
        assert row.carries_low < row.carries_high
        assert 0.0 < row.holds_probability < 1.0 or row.holds_probability in (0.0, 1.0)


def test_two_workers_give_the_same_bits(study, alone):
    assert bits(run(study, workers=2)) == bits(alone)


def test_a_local_cluster_gives_the_same_bits(study, alone):
    assert bits(run(study, workers=2, cluster="local")) == bits(alone)


def test_a_run_that_begins_in_the_middle_gives_the_rest(study, alone):
    assert bits(run(study, first=3, workers=2)) == bits(alone[3:])


def test_the_number_in_a_chunk_changes_no_answer(demo_database, alone, shop):
    other = [o for chunk in run(design(shop, CASES[:7], chunk=3)) for o in chunk]
    assert bits([other]) == bits([[o for chunk in alone for o in chunk][:7]])


def test_what_cannot_be_asked_is_a_row_with_its_reason(shop):
    cases = [
        Case(car="car-x", request=Request(power=250e3)),
        Case(car="car-a", request=Request(power=250e3, install=("NO-1",))),
        Case(car="car-a", request=Request(power=5e6)),
        Case(car="car-a", request=Request(power=250e3, torque=60.0)),
        Case(car="car-a", request=Request(power=250e3, boost=1.5e5)),
    ]
    found = [o for chunk in run(design(shop, cases)) for o in chunk]
    assert [bool(o.refused) for o in found] == [True, True, True, True, False]
    assert all(named in o.refused for named, o in zip(("car-x", "NO-1", "5000 kW", "60 N·m"), found, strict=False))
    assert found[0] == Outcome(refused=found[0].refused)


def test_fingerprint_answers_to_question_record_and_program(demo_database, shop):
    def printed(cases=CASES[:2], version="1", **more):
        return fingerprint(design(shop, cases, **more), version)

    assert printed() == printed()
    others = [
        printed(cases=CASES[1:3]),
        printed(cases=CASES[:3]),
        printed(version="2"),
        printed(samples=10),
        printed(chunk=3),
        printed(seed=1),
    ]
    assert len({printed(), *others}) == 7


@pytest.mark.parametrize("more", [{"samples": -1}, {"samples": 10**6}, {"chunk": 0}, {"chunk": 10**6}])
def test_numbers_nobody_can_mean_are_refused(shop, more):
    with pytest.raises(OutOfRange, match="choose a number"):
        design(shop, CASES, **more)


def test_nothing_to_ask_is_refused(shop):
    with pytest.raises(UsageError, match="asks nothing"):
        design(shop, [])


@pytest.mark.parametrize("workers", [0, -1, 5000])
def test_number_of_workers_is_refused(study, workers):
    with pytest.raises(OutOfRange, match="workers"):
        next(run(study, workers=workers))


def test_no_cluster_at_an_address_is_a_sentence(study):
    with pytest.raises(UsageError, match="no cluster answers"):
        next(run(study, cluster="127.0.0.1:1"))


def test_records_travel_with_their_read_only_mappings(study):
    task = study.tasks[0]
    back = pickle.loads(pickle.dumps(task))
    assert isinstance(back.build.platform.constants, MappingProxyType)
    assert repr(back) == repr(task)
