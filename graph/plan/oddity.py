"""What is odd about a book's requirements: parts that need themselves, each other, or what nobody offers."""

from __future__ import annotations

import networkx as nx

from graph.model import RelationKind
from graph.plan.choice import Choices
from graph.plan.labour import alternatives


def oddities(choices: Choices) -> tuple[str, ...]:
    """Sentences about requirements that no reader of a sheet would expect.

    Parameters
    ----------
    choices : Choices
        What may be in every slot.

    Returns
    -------
    tuple of str
        Parts that need themselves, circles of parts that need each other, parts that need what is not offered here,
        slots that are to stay as they are with a part that must not be fitted.
    """
    parts = {o.part.id: o.part for found in choices.options for o in found if o.part is not None}
    offered = {o.part.id for found in choices.options for o in found if o.bought is not None and o.part is not None}
    needs = nx.DiGraph()
    said: list[str] = []
    for number in sorted(offered):
        for relation in parts[number].relations:
            if relation.kind is not RelationKind.REQUIRES or relation.part is None:
                continue
            ways = alternatives(relation.part)
            present = [w for w in ways if w in parts]
            if not present:
                said.append(f"{number} cannot be fitted: it requires {' or '.join(ways)}, which is not offered here")
            elif number in ways:
                said.append(f"{number} requires itself; it is taken as its own fulfilment")
            elif len(present) == 1:
                needs.add_edge(number, present[0])
    circles = sorted(sorted(c) for c in nx.strongly_connected_components(needs) if len(c) > 1)
    said += [f"{', '.join(c)} require each other; they are fitted together or not at all" for c in circles]
    for s, found in enumerate(choices.options):
        left = {name for o in found for name in o.barred}
        if found[0].part is not None and f"keep:{choices.names[s]}" in left:
            number = found[0].part.id
            if f"forbid:{number}" in found[0].barred:
                said.append(f"{choices.names[s]} is to stay as it is, and its part {number} must not be on the car")
    return tuple(said)
