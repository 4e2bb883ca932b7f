"""What a part says about other parts: the clauses of the column of requirements, and its interfaces.

The grammar is closed. Clauses are parted by ``;``: ``PY-1117``, ``PY-1112 | PY-1113`` (either), ``pump controller
current >= 16 A`` (a rating that a slot must reach), ``task: lobe check``, ``supersedes PY-1009``, ``not with PY-2014``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from graph.errors import UnknownName
from graph.limit import Kind
from graph.model import Interface, Relation, RelationKind
from graph.service import find_kind
from ingest.problem import UnreadableValue
from ingest.units import parse_quantity
from ingest.vocabulary import Vocabulary, plain_word

#: A part number: letters, digits and ``. _ / -`` without spaces.
NUMBER = re.compile(r"[^\W_][\w./-]*")
_OLD = re.compile(rf"(?P<new>{NUMBER.pattern})\s*[(\[][^()\[\]]*?(?P<old>{NUMBER.pattern})\s*[)\]]")
FORMS = "a part number, 'A | B', 'task: ...', 'supersedes A', 'not with A', 'includes A', 'adapts A' or '<slot> <rating> >= <value>'"
_REACHES = re.compile(r"(?P<subject>.+?)\s*(?:>\s?=|≥|\bat least\b|\bmindestens\b)\s*(?P<value>.+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Statements:
    """What a cell of requirements says.

    Parameters
    ----------
    relations : tuple of Relation
        Statements about other parts.
    tasks : tuple of str
        Work that goes with the part and is no part.
    defects : tuple of (str, str, str)
        For each clause that is not understood: found, expected, remedy.
    """

    relations: tuple[Relation, ...]
    tasks: tuple[str, ...]
    defects: tuple[tuple[str, str, str], ...]


def read_requirements(text: str, words: Vocabulary) -> Statements:
    """Read a cell of requirements.

    Parameters
    ----------
    text : str
        The cell's text.
    words : Vocabulary
        Openings of clauses.

    Returns
    -------
    Statements
        Understood clauses and the others, nothing left out.

    Examples
    --------
    >>> from ingest.vocabulary import read_vocabulary
    >>> said = read_requirements("PY-1117; task: lobe check", read_vocabulary())
    >>> said.relations[0].part, said.tasks
    ('PY-1117', ('lobe check',))
    """
    relations: list[Relation] = []
    tasks: list[str] = []
    defects: list[tuple[str, str, str]] = []
    for clause in (" ".join(piece.split()) for piece in re.split(r"[;\n]", text)):
        if not clause:
            continue
        opening, rest = _opening(clause, words)
        if opening == "task":
            if rest:
                tasks.append(rest)
            else:
                defects.append((repr(clause), "what is to be done", "write the work behind 'task:'"))
            continue
        try:
            relations.append(_relation(clause, opening, rest))
        except UnreadableValue as defect:
            defects.append((f"{clause!r}: {defect.found}", defect.expected, defect.remedy))
    return Statements(relations=tuple(relations), tasks=tuple(tasks), defects=tuple(defects))


def no_number(number: str) -> tuple[str, str, str]:
    """Say what a text is that is no part number.

    Parameters
    ----------
    number : str
        The text of a cell.

    Returns
    -------
    tuple of str
        Found, expected and remedy.

    Examples
    --------
    >>> no_number("PY-12 (PY-3)")[0]
    "'PY-12 (PY-3)', a number with PY-3 in brackets"
    """
    expected = "one part number without spaces, brackets or '+'"
    old = _OLD.fullmatch(number)
    if old is not None:
        return (
            f"{number!r}, a number with {old['old']} in brackets",
            expected,
            f"write {old['new']} alone; if it replaces {old['old']}, add 'supersedes {old['old']}' to the requirements",
        )
    several = [piece for piece in re.split(r"\s*(?:[+&,;]|\band\b|\bund\b)\s*", number) if piece]
    if len(several) > 1 and all(NUMBER.fullmatch(piece) and re.search(r"\d", piece) for piece in several):
        return (
            f"{number!r}, a kit of {len(several)} parts",
            expected,
            "give each part its own row with its share of price and labour, and delete this one",
        )
    return (
        repr(number),
        expected,
        "write one number in each row; an old number goes to the requirements as 'supersedes ...'",
    )


def read_interfaces(text: str) -> tuple[tuple[Interface, ...], tuple[tuple[str, str, str], ...]]:
    """Read a cell of interfaces, ``port: type`` parted by ``;``.

    Parameters
    ----------
    text : str
        The cell's text.

    Returns
    -------
    interfaces : tuple of Interface
        Ports in lower case.
    defects : tuple of (str, str, str)
        For each entry that is not understood: found, expected, remedy.
    """
    found: dict[str, Interface] = {}
    defects: list[tuple[str, str, str]] = []
    for entry in (" ".join(piece.split()) for piece in re.split(r"[;\n]", text)):
        port, colon, kind = (part.strip() for part in entry.partition(":"))
        if not entry:
            continue
        if not colon or not port or not kind:
            defects.append((repr(entry), "'port: type', parted by ';'", "write each port with its type"))
        elif port.lower() in found:
            defects.append((f"{entry!r}, the port {port} again", "each port once", "remove one of them"))
        else:
            found[port.lower()] = Interface(port=port.lower(), type=kind)
    return tuple(found.values()), tuple(defects)


def _opening(clause: str, words: Vocabulary) -> tuple[str | None, str]:
    """The word that opens a clause, the longest one, and what stands behind it."""
    plain = clause.casefold()
    for spelling, meaning in sorted(words.words["clause"].items(), key=lambda item: -len(item[0])):
        if plain_word(plain) == spelling or plain.startswith((spelling + ":", spelling + " ")):
            if meaning == "task" and ":" not in clause[: len(spelling) + 1]:
                continue
            return meaning, clause[len(spelling) :].lstrip(": ")
    return None, clause


def _relation(clause: str, opening: str | None, rest: str) -> Relation:
    if opening is not None:
        if NUMBER.fullmatch(rest) is None or not re.search(r"\d", rest):
            raise UnreadableValue(repr(rest), "one part number", f"write it as '{opening} PY-1234', one in a clause")
        return Relation(kind=RelationKind(opening), part=rest, text=clause)
    options = [option.strip() for option in clause.split("|")]
    if all(NUMBER.fullmatch(option) and re.search(r"\d", option) for option in options):
        return Relation(kind=RelationKind.REQUIRES, part=" | ".join(options), text=clause)
    reaches = _REACHES.fullmatch(clause)
    if reaches is None:
        raise UnreadableValue(
            "words that are no clause", FORMS, "write it in one of these forms, or move it to the note"
        )
    kind, name = _subject(reaches["subject"])
    spec = next((r for r in kind.ratings if plain_word(r.name) == name), None)
    if spec is None and not name and len(required := [r for r in kind.ratings if r.required]) == 1:
        spec = required[0]
    if spec is None:
        names = ", ".join(r.name for r in kind.ratings) or "none"
        raise UnreadableValue(repr(name), f"a rating of {kind.label}: {names}", "write '<slot> <rating> >= <value>'")
    measure = parse_quantity(reaches["value"], spec.quantity)
    if measure.qualifiers or measure.condition:
        raise UnreadableValue(repr(reaches["value"]), "one plain number", "write one number with its unit")
    return Relation(kind=RelationKind.REQUIRES, slot=kind.name, rating=spec.name, at_least=measure.value, text=clause)


def _subject(subject: str) -> tuple[Kind, str]:
    """The slot that opens a subject, the longest one, and the words behind it."""
    said = subject.split()
    for cut in range(len(said), 0, -1):
        try:
            return find_kind(" ".join(said[:cut])), plain_word(" ".join(said[cut:]))
        except UnknownName:
            continue
    raise UnreadableValue(repr(subject), "a slot and one of its ratings", "write '<slot> <rating> >= <value>'")
