"""The list of words: English and German, extended by a shop, never ambiguous."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from graph.errors import UsageError
from graph.kinds import discover
from graph.model import Belief, EvidenceKind, Meaning, RelationKind
from ingest.book import read_book
from ingest.evidence import evidence_kind
from ingest.header import split_unit
from ingest.vocabulary import plain_word, read_vocabulary

WORDS = read_vocabulary()


def test_every_closed_list_is_that_of_the_records() -> None:
    assert set(WORDS.known("evidence")) == {k.value for k in EvidenceKind} == set(WORDS.spread)
    assert set(WORDS.known("meaning")) == {m.value for m in Meaning}
    assert set(WORDS.known("belief")) == {b.value for b in Belief}
    assert set(WORDS.known("clause")) == {"task"} | {r.value for r in RelationKind if r is not RelationKind.REQUIRES}


def test_translated_ratings_and_conditions_exist() -> None:
    ratings = {spec.name for kind in discover().values() for spec in kind.ratings}
    conditions = {c.name for kind in discover().values() for spec in kind.ratings for c in spec.conditions}
    assert set(WORDS.words["rating"].values()) <= ratings
    assert set(WORDS.words["condition"].values()) <= conditions


def test_every_place_has_names_that_lead_to_it_alone() -> None:
    names: dict[str, str] = {}
    for kind in discover().values():
        for name in (kind.name, kind.label, *kind.synonyms):
            assert names.setdefault(plain_word(name), kind.name) == kind.name


@pytest.mark.parametrize(
    ("header", "base", "unit"),
    [
        ("Flow (L/h)", "flow", "L/h"),
        ("Nennwert [bar abs]", "nennwert", "bar abs"),
        ("Labour h", "labour", "h"),
        ("Lieferzeit Wochen", "lieferzeit", "weeks"),
        ("Rating", "rating", None),
        ("h", "h", None),
    ],
)
def test_a_header_declares_its_unit(header: str, base: str, unit: str | None) -> None:
    assert split_unit(header, WORDS) == (base, unit)


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("own bench (1 used)", EvidenceKind.OWN_BENCH),
        ("Own Dyno", EvidenceKind.OWN_DYNO),
        ("3 failures seen", EvidenceKind.SHOP_EXPERIENCE),
        ("EJ", EvidenceKind.ESTIMATE),
        ("EJ + 1 failure", EvidenceKind.SHOP_EXPERIENCE),
        ("Schätzung", EvidenceKind.ESTIMATE),
        ("own bench, they say", None),
        ("seen on a forum", None),
        ("ok", None),
        ("own bench + hearsay", None),
    ],
)
def test_evidence_is_a_closed_list(said: str, kind: EvidenceKind | None) -> None:
    assert evidence_kind(said, WORDS) is kind


def test_a_shop_adds_words(write: Callable[..., Path], tmp_path: Path) -> None:
    extra = tmp_path / "words.toml"
    extra.write_text(
        '[header.parts]\nnumber = ["Bin"]\n[evidence]\n"own bench" = ["Rig 2"]\n[spread]\n"own bench" = 3\n', "utf-8"
    )
    rows = [
        ["Bin", "Part", "Slot", "Fits", "Boost (bar gauge)", "Evidence"],
        ["T-1", "p", "charge pipe", "E1", 1.7, "rig 2"],
    ]
    path = write("shop.csv", {"": rows})
    assert read_book([path]).parts == []
    book = read_book([path], words=extra)
    assert book.problems == []
    (boost,) = book.parts[0].ratings
    assert (boost.name, boost.evidence.kind, boost.spread) == ("boost", EvidenceKind.OWN_BENCH, 0.03)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[header.parts]\ncolour = ["Colour"]', "no entry 'colour'"),
        ('[header.garage]\nx = ["y"]', "no table 'garage'"),
        ('[header.parts]\nslot = ["No."]', "means 'number' already"),
        ('[evidence]\n"hearsay" = ["forum"]', "no entry 'hearsay'"),
        ('[meaning]\nnominal = "usual"', "list of words"),
        ('[spread]\n"own bench" = 300', "0 to 60"),
        ("[colours]", "no table 'colours'"),
        ("[header", "cannot be read"),
    ],
)
def test_a_list_of_words_that_cannot_be(text: str, said: str, tmp_path: Path) -> None:
    extra = tmp_path / "words.toml"
    extra.write_text(text, "utf-8")
    with pytest.raises(UsageError, match=said):
        read_vocabulary(extra)
    with pytest.raises(UsageError, match="cannot be read"):
        read_vocabulary(tmp_path / "nowhere.toml")
