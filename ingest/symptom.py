"""Sheets of faults, signs and inspections to :class:`~graph.symptom.Knowledge`, with every defect."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from graph.errors import UsageError
from graph.quantity import Quantity
from graph.symptom import Count, Fault, Inspection, Knowledge, Sign, learn_counts
from ingest.problem import Problem, UnreadableFile, UnreadableValue
from ingest.table import Row, read_workbook
from ingest.units import parse_quantity
from ingest.vocabulary import plain_word

#: The sheets of a folder; the last is the shop's own and may be missing.
SIGNS, FAULTS, INSPECTIONS, COUNTS = "signs.csv", "symptoms.csv", "inspections.csv", "counts.csv"
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


@dataclass(slots=True, kw_only=True)
class _Table:
    """One sheet with named columns."""

    file: str
    columns: dict[str, tuple[int, str]]
    rows: tuple[Row, ...]
    problems: list[Problem]

    def text(self, row: Row, column: str) -> str:
        place = self.columns.get(column)
        return row.cells[place[0]].text if place is not None and place[0] < len(row.cells) else ""

    def defect(self, row: Row, column: str, found: str, expected: str, remedy: str) -> None:
        letters = self.columns[column][1] if column in self.columns else None
        self.problems.append(
            Problem(file=self.file, row=row.number, column=letters, found=found, expected=expected, remedy=remedy)
        )

    def number(self, row: Row, column: str, low: float, high: float, default: float | None = None) -> float | None:
        """A plain number within bounds; None after a defect."""
        said = self.text(row, column)
        if not said and default is not None:
            return default
        try:
            value = parse_quantity(said, Quantity.RATIO, declared_unit="1").value
        except UnreadableValue as error:
            self.defect(row, column, error.found, f"a number from {low:g} to {high:g}", error.remedy)
            return None
        if not low <= value <= high:
            self.defect(row, column, said, f"a number from {low:g} to {high:g}", "correct the number")
            return None
        return value


def _open(path: Path, needed: Iterable[str], problems: list[Problem]) -> _Table:
    sheet = read_workbook(path).sheets[0]
    filled = [row for row in sheet.rows if any(cell.text for cell in row.cells)]
    if not filled:
        raise UnreadableFile(path.name, "the sheet is empty", "fill it in or remove it")
    columns = {cell.text: (i, cell.column) for i, cell in enumerate(filled[0].cells) if cell.text}
    missing = [name for name in needed if name not in columns]
    if missing:
        raise UnreadableFile(path.name, f"no column {', '.join(map(repr, missing))}", "add it to the first row")
    return _Table(file=path.name, columns=columns, rows=tuple(filled[1:]), problems=problems)


def read_knowledge(folder: Path | str) -> KnowledgeBook:
    """Read the sheets of a folder; where there are counts of the shop, judged figures are moved by them.

    Parameters
    ----------
    folder : path
        Holds ``signs.csv``, ``symptoms.csv``, ``inspections.csv`` and perhaps ``counts.csv``.

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
    signs = _signs(_open(folder / SIGNS, ("sign", "name", "without a fault %"), problems))
    inspections, own, links = _inspections(
        _open(folder / INSPECTIONS, ("inspection", "minutes", "sign", "shows fault: chance %"), problems), signs
    )
    faults = _faults(_open(folder / FAULTS, ("fault", "name", "slot", "prior %"), problems), signs, links)
    knowledge = Knowledge(faults=faults, signs=(*signs.values(), *own.values()), inspections=inspections)
    if (folder / COUNTS).is_file():
        counts = _counts(_open(folder / COUNTS, ("fault", "sign", "hits", "cars"), problems), knowledge)
        knowledge = learn_counts(knowledge, counts)
    return KnowledgeBook(knowledge=knowledge, problems=problems)


def _signs(table: _Table) -> dict[str, Sign]:
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
    table: _Table, signs: dict[str, Sign]
) -> tuple[tuple[Inspection, ...], dict[str, Sign], dict[str, list[tuple[str, float, _Table, Row]]]]:
    """Inspections, the signs that only they show, and for each fault the chances of those signs."""
    found: dict[str, Inspection] = {}
    own: dict[str, Sign] = {}
    links: dict[str, list[tuple[str, float, _Table, Row]]] = {}
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
    table: _Table, signs: dict[str, Sign], links: dict[str, list[tuple[str, float, _Table, Row]]]
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


def _counts(table: _Table, knowledge: Knowledge) -> list[Count]:
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
