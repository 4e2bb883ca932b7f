"""Part numbers that a question about the whole book has to look at: perhaps unknown, in a circle, or vague.

Kept by the transaction that adds parts. A number too many costs a look; a number too few would be a wrong answer, so
what may lead to another part counts as if it did.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select

from graph.model import Part, Relation, RelationKind
from graph.store import table as t

UNKNOWN, VAGUE, CIRCLE = "unknown", "vague", "circle"
LEADING = (RelationKind.REQUIRES, RelationKind.SUPERSEDES)
_Node = tuple[str, ...]


class Lead(NamedTuple):
    """A statement by which one part may lead to others: to numbers, or to whatever reaches a rating in a place."""

    number: str
    kind: str
    codes: tuple[str, ...]
    statement: str
    parts: tuple[str, ...]
    slot: str | None


def keep_doubts(connection: Connection, added: Iterable[Part], known: Collection[str]) -> None:
    """Bring the doubts up to what parts just added say.

    Parameters
    ----------
    connection : Connection
        Inside the transaction that added them.
    added : iterable of Part
        New revisions.
    known : collection of str
        Numbers of all current parts.
    """
    added = list(added)
    relations = [relation for part in added for relation in part.relations]
    named = {number for relation in relations for number in relation.numbers}
    before = _doubts(connection, UNKNOWN)
    _write(connection, UNKNOWN, before, {number for number in before | named if number not in known})
    vague = {part.id for part in added if any(relation.vague for relation in part.relations)}
    before = _doubts(connection, VAGUE)
    _write(connection, VAGUE, before, before - {part.id for part in added} | vague)
    if any(relation.kind in LEADING for relation in relations):
        _write(connection, CIRCLE, _doubts(connection, CIRCLE), circling(_leads(connection)))


def _doubts(connection: Connection, topic: str) -> set[str]:
    return set(connection.execute(select(t.doubt.c.number).where(t.doubt.c.topic == topic)).scalars())


def _write(connection: Connection, topic: str, before: set[str], after: set[str]) -> None:
    gone = [{"number": number} for number in sorted(before - after)]
    for row in gone:
        connection.execute(delete(t.doubt).where(t.doubt.c.topic == topic, t.doubt.c.number == row["number"]))
    if after - before:
        connection.execute(insert(t.doubt), [{"topic": topic, "number": n} for n in sorted(after - before)])


def _leads(connection: Connection) -> Iterator[Lead]:
    revision, relation, fitment = t.part_revision.c, t.relation.c, t.fitment.c
    codes = {row.id: tuple(row.codes) for row in connection.execute(select(fitment.id, fitment.codes))}
    query = (
        select(revision.part_id, revision.kind, revision.fitment_id, relation.kind, relation.part, relation.slot)
        .join(t.relation, relation.revision_id == revision.id)
        .where(revision.superseded_by.is_(None), relation.kind.in_([kind.value for kind in LEADING]))
    )
    for number, kind, fits, statement, part, slot in connection.execute(query):
        yield Lead(
            number,
            kind,
            codes.get(fits, ()),
            statement,
            Relation(kind=RelationKind(statement), part=part).numbers,
            slot,
        )


def circling(leads: Iterable[Lead]) -> set[str]:
    """Parts that may lead back to themselves, and those between two such circles.

    Parameters
    ----------
    leads : iterable of Lead
        Of the current parts.

    Returns
    -------
    set of str
        Numbers; no part outside them is in a circle.

    Examples
    --------
    >>> def says(number, *parts):
    ...     return Lead(number, "rods", (), "requires", parts, None)
    >>> sorted(circling([says("A", "B"), says("B", "C", "A"), says("D", "A")]))
    ['A', 'B']
    """
    stated: dict[str, list[Lead]] = defaultdict(list)
    for lead in leads:
        stated[lead.statement].append(lead)
    return {name for found in stated.values() for name in _left(_joined(found))}


def _joined(leads: list[Lead]) -> dict[_Node, set[_Node]]:
    """Who may lead to whom: parts by number, and through the places whose rating they require."""
    tails: dict[str, Lead] = {lead.number: lead for lead in leads}
    heads: dict[_Node, set[_Node]] = defaultdict(set)
    places: set[str] = set()
    for lead in leads:
        named = lead.parts
        heads[lead.number,] |= {(number,) for number in named if number in tails}
        if not named and lead.slot is not None:
            places.add(lead.slot)
            heads[lead.number,] |= {(lead.slot, code) for code in (lead.codes or ("any",))} | {(lead.slot, "")}
    for number, lead in tails.items():
        if lead.kind in places:  # a part without a code goes anywhere, and anything goes with it
            for code in (*lead.codes, "any") if lead.codes else ("",):
                heads[lead.kind, code].add((number,))
    return heads


def _left(heads: dict[_Node, set[_Node]]) -> Iterator[str]:
    """Names of parts that are left once whatever leads nowhere, or is led to from nowhere, is taken away."""
    tails: dict[_Node, set[_Node]] = {node: set() for node in heads}
    for node, found in heads.items():
        for head in found:
            tails.setdefault(head, set()).add(node)
    left = set(tails)
    ends = deque(node for node in left if not tails[node] or not heads.get(node))
    while ends:
        node = ends.popleft()
        if node not in left:
            continue
        left.discard(node)
        for head in heads.get(node, ()):
            tails[head].discard(node)
            if not tails[head]:
                ends.append(head)
        for tail in tails[node]:
            heads[tail].discard(node)
            if not heads[tail]:
                ends.append(tail)
    return (node[0] for node in left if len(node) == 1)
