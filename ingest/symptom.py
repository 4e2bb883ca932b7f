"""Sheets of faults, signs and inspections to :class:`~graph.symptom.Knowledge`, with every defect."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

from graph.errors import UsageError
from graph.symptom import Count, Fault, Inspection, Knowledge, Mistake, Sign, learn_counts
from ingest.named_table import NamedTable, open_named
from ingest.problem import Problem
from ingest.table import Row
from ingest.vocabulary import plain_word

#: The sheets of a folder; the shop's own counts and the mistakes of fitting may be missing.
SIGNS, FAULTS, INSPECTIONS, COUNTS = "signs.csv", "symptoms.csv", "inspections.csv", "counts.csv"
MISTAKES = "fitting.csv"
_CODES = frozenset("FJHRBLIET")
_LINK = re.compile(r"([\w-]+)\s+(\d+(?:[.,]\d+)?)")


@dataclass(slots=True, kw_only=True)
class KnowledgeBook:
    """What reading gave.

    Parameters
    ----------
    knowledge : Knowledge
        From the rows without defects.
    problems : list of Problem
        Every defect.
    """

    knowledge: Knowledge
    problems: list[Problem] = field(default_factory=list)


def read_knowledge(folder: Path | str) -> KnowledgeBook:
    """Read the sheets of a folder; where there are counts of the shop, judged figures are moved by them.

    Parameters
    ----------
    folder : path
        Holds ``signs.csv``, ``symptoms.csv``, ``inspections.csv`` and perhaps ``counts.csv`` and ``fitting.csv``.

    Returns
    -------
    KnowledgeBook
        Knowledge and defects.

    Raises
    ------
    UnreadableFile
        A sheet is missing, no table, or lacks a column.
    """
    folder = Path(folder)
    problems: list[Problem] = []
    signs = _signs(open_named(folder / SIGNS, ("sign", "name", "without a fault %"), problems))
    inspections, own, links = _inspections(
        open_named(folder / INSPECTIONS, ("inspection", "minutes", "sign", "shows fault: chance %"), problems), signs
    )
    faults = _faults(open_named(folder / FAULTS, ("fault", "name", "slot", "prior %"), problems), signs, links)
    knowledge = Knowledge(faults=faults, signs=(*signs.values(), *own.values()), inspections=inspections)
    if (folder / COUNTS).is_file():
        counts = _counts(open_named(folder / COUNTS, ("fault", "sign", "hits", "cars"), problems), knowledge)
        knowledge = learn_counts(knowledge, counts)
    if (folder / MISTAKES).is_file():
        listed = open_named(folder / MISTAKES, ("slot", "mistake", "check"), problems)
        knowledge = replace(knowledge, mistakes=_mistakes(listed, knowledge))
    return KnowledgeBook(knowledge=knowledge, problems=problems)


def _signs(table: NamedTable) -> dict[str, Sign]:
    found: dict[str, Sign] = {}
    for row in table.rows:
        key = table.text(row, "sign")
        leak = table.number(row, "without a fault %", 0.1, 50.0)
        if not key or key in found:
            table.defect(row, "sign", repr(key) if key else "nothing", "a key of its own", "give each sign one row")
        elif leak is not None:
            aliases = tuple(a.strip() for a in table.text(row, "also known as").split(";") if a.strip())
            found[key] = Sign(
                id=key,
                name=table.text(row, "name") or key,
                aliases=aliases,
                leak=leak / 100.0,
                evidence=table.text(row, "evidence"),
            )
    return found


def _inspections(
    table: NamedTable, signs: dict[str, Sign]
) -> tuple[tuple[Inspection, ...], dict[str, Sign], dict[str, list[tuple[str, float, NamedTable, Row]]]]:
    """Inspections, the signs that only they show, and for each fault the chances of those signs."""
    found: dict[str, Inspection] = {}
    own: dict[str, Sign] = {}
    links: dict[str, list[tuple[str, float, NamedTable, Row]]] = {}
    for row in table.rows:
        key, sign = table.text(row, "inspection"), table.text(row, "sign")
        minutes = table.number(row, "minutes", 1.0, 600.0)
        days = table.number(row, "wait days", 0.0, 60.0, 0.0)
        if not key or not sign:
            table.defect(row, "inspection" if not key else "sign", "nothing", "a key", "fill it in")
            continue
        if minutes is None or days is None:
            continue
        said = table.text(row, "shows fault: chance %")
        if sign not in signs:
            leak = table.number(row, "without a fault %", 0.1, 50.0)
            pairs = _LINK.findall(said)
            if leak is None or not pairs or len(pairs) != len([p for p in said.split(";") if p.strip()]):
                if leak is not None:
                    table.defect(
                        row,
                        "shows fault: chance %",
                        repr(said),
                        "faults with their chances, such as 'plugs-worn 95; coil-weak 20'",
                        "write them so, or name a sign of the list of signs",
                    )
                continue
            own[sign] = Sign(
                id=sign,
                name=table.text(row, "sign name") or sign,
                leak=leak / 100.0,
                evidence=table.text(row, "evidence"),
            )
            for fault, chance in pairs:
                links.setdefault(fault, []).append((sign, float(chance.replace(",", ".")) / 100.0, table, row))
        before = found.get(key)
        found[key] = Inspection(
            id=key,
            name=table.text(row, "name") or key,
            duration=minutes * 60.0,
            wait=days * 86400.0,
            rollers=plain_word(table.text(row, "rollers")) in ("yes", "ja", "x"),
            signs=(sign,) if before is None else tuple(dict.fromkeys((*before.signs, sign))),
            evidence=table.text(row, "evidence"),
        )
    return tuple(found.values()), own, links


def _faults(
    table: NamedTable, signs: dict[str, Sign], links: dict[str, list[tuple[str, float, NamedTable, Row]]]
) -> tuple[Fault, ...]:
    found: dict[str, Fault] = {}
    fixed = {"fault", "name", "slot", "stake", "prior %", "evidence"}
    for column, (_, letters) in table.columns.items():
        if column not in fixed and column not in signs:
            table.problems.append(
                Problem(
                    file=table.file,
                    row=1,
                    column=letters,
                    found=repr(column),
                    expected=f"a sign of {SIGNS}",
                    remedy="add the sign there or correct the column's name",
                )
            )
    for row in table.rows:
        key = table.text(row, "fault")
        prior = table.number(row, "prior %", 0.1, 90.0)
        stake = table.number(row, "stake", 0.1, 100.0, 1.0)
        cells = {s: table.number(row, s, 0.1, 99.0) for s in signs if s in table.columns and table.text(row, s)}
        if not key or key in found:
            table.defect(row, "fault", repr(key) if key else "nothing", "a key of its own", "give each fault one row")
        elif prior is not None and stake is not None and None not in cells.values():
            chances = {s: c / 100.0 for s, c in cells.items() if c is not None}
            chances |= {sign: chance for sign, chance, _, _ in links.get(key, [])}
            found[key] = Fault(
                id=key,
                name=table.text(row, "name") or key,
                slot=table.text(row, "slot") or None,
                prior=prior / 100.0,
                stake=stake,
                chances=chances,
                evidence=table.text(row, "evidence"),
            )
    for key, listed in links.items():
        if key not in found:
            _, _, other, row = listed[0]
            other.defect(row, "shows fault: chance %", repr(key), f"a fault of {FAULTS}", "correct the key")
    return tuple(found.values())


def _counts(table: NamedTable, knowledge: Knowledge) -> list[Count]:
    found: list[Count] = []
    faults, signs = {f.id for f in knowledge.faults}, {s.id for s in knowledge.signs}
    for row in table.rows:
        fault, sign = table.text(row, "fault"), table.text(row, "sign") or None
        cars = table.number(row, "cars", 0.0, 1e6)
        hits = None if cars is None else table.number(row, "hits", 0.0, cars)
        if fault not in faults:
            table.defect(row, "fault", repr(fault), f"a fault of {FAULTS}", "correct the key")
        elif sign is not None and sign not in signs:
            table.defect(row, "sign", repr(sign), f"a sign of {SIGNS}, or nothing", "correct the key")
        elif hits is not None and cars is not None:
            found.append(Count(fault=fault, sign=sign, hits=int(hits), cars=int(cars)))
    return found


def _mistakes(table: NamedTable, knowledge: Knowledge) -> tuple[Mistake, ...]:
    found: list[Mistake] = []
    signs = {s.id for s in knowledge.signs}
    for row in table.rows:
        slot, mistake, check = (table.text(row, c) for c in ("slot", "mistake", "check"))
        codes, sign = tuple(table.text(row, "cautions").split()), table.text(row, "shows as") or None
        if not (slot and mistake and check):
            table.defect(row, "slot", "a row with a gap", "slot, mistake and check", "fill it in")
        elif not set(codes) <= _CODES:
            table.defect(row, "cautions", repr(" ".join(codes)), "codes of F J H R B L I E T", "correct them")
        elif sign is not None and sign not in signs:
            table.defect(row, "shows as", repr(sign), f"a sign of {SIGNS}, or nothing", "correct the key")
        else:
            note = table.text(row, "evidence")
            found.append(Mistake(slot=slot, mistake=mistake, check=check, cautions=codes, sign=sign, evidence=note))
    return tuple(found)


def find_sign(text: str, knowledge: Knowledge) -> Sign:
    """The sign that a person means: by key, name, other name, number in the list, or words that only it holds.

    Parameters
    ----------
    text : str
        As written.
    knowledge : Knowledge
        Signs to choose from.

    Returns
    -------
    Sign
        The one meant.

    Raises
    ------
    UsageError
        None fits, or several do; the message offers the nearest.
    """
    wanted = plain_word(text)
    if wanted.isdigit() and 1 <= int(wanted) <= len(knowledge.signs):
        return knowledge.signs[int(wanted) - 1]
    words: dict[str, Sign] = {}
    for sign in knowledge.signs:
        for name in (sign.id, sign.name, *sign.aliases):
            words[plain_word(name)] = sign
    if wanted in words:
        return words[wanted]
    parts = set(wanted.split())
    fitting = {sign.id: sign for name, sign in words.items() if parts and parts <= set(re.findall(r"\w+", name))}
    if len(fitting) == 1:
        return next(iter(fitting.values()))
    near = list(fitting) or list(
        dict.fromkeys(words[name].id for name in difflib.get_close_matches(wanted, words, n=5, cutoff=0.4))
    )
    offered = ", ".join(near or [s.id for s in knowledge.signs])
    what = "several signs fit" if fitting else "no sign is called"
    raise UsageError(f"{what} {text!r}; {'nearest' if near else 'known'}: {offered}")
