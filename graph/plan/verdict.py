"""What the model was asked about options alone, remembered for all nodes of a search that know no difference."""

from __future__ import annotations

from collections.abc import Hashable

from graph.plan.bond import Key
from graph.plan.choice import Choices, Domains
from graph.plan.node import Split, firsts
from graph.plan.terms import Model

#: What the parts in some slots say.
Said = tuple[Hashable, ...]


class Verdicts:
    """Verdicts of a model on options alone.

    Parameters
    ----------
    choices : Choices
        The options.
    model : Model
        Asked once for options that say the same.
    no_engine : bool
        True to leave out what the engine alone makes.
    """

    def __init__(self, choices: Choices, model: Model, *, no_engine: bool) -> None:
        self.choices, self.model, self.no_engine = choices, model, no_engine
        self.standing = tuple(s for s in model.context if s not in model.late)
        self._kinds: dict[int, list[Hashable]] = {}
        self._engines: dict[Said, bool] = {}
        self._clear: dict[tuple[Said, Said | None], dict[Key, bool]] = {}

    def kinds(self, slot: int) -> list[Hashable]:
        """What every option of a slot says."""
        if slot not in self._kinds:
            self._kinds[slot] = [self.model.alike(slot, i) for i in range(len(self.choices.options[slot]))]
        return self._kinds[slot]

    def said(self, domains: Domains, slots: tuple[int, ...]) -> Said:
        """What the cheapest options of some slots say."""
        return tuple(self.kinds(s)[domains[s][0]] for s in slots)

    def mixed(self, domains: Domains, slots: tuple[int, ...]) -> Split | None:
        """The first slot with options that say different things, and those of them that say what the cheapest says."""
        for s in slots:
            found = domains[s]
            if len(found) > 1:
                kinds = self.kinds(s)
                same = frozenset(i for i in found if kinds[i] == kinds[found[0]])
                if len(same) < len(found):
                    return s, same
        return None

    def engine(self, domains: Domains) -> bool:
        """True if the engine alone makes the target with the cheapest options."""
        context = self.said(domains, self.standing)
        if context not in self._engines:
            self._engines[context] = self.no_engine or self.model.engine(firsts(domains, self.model.context))
        return self._engines[context]

    def opened(self, domains: Domains) -> bool:
        """True if what a verdict depends on is settled, and the model was asked there before."""
        return self.mixed(domains, self.standing) is None and (self.said(domains, self.standing), None) in self._clear

    def clear(self, domains: Domains, placed: bool, key: Key) -> bool:
        """False if an option is not clear alone; True where that is still open, or the late slots are."""
        late = None
        if self.model.hears(*key):
            if not placed:
                return True
            late = self.said(domains, self.model.late)
        known = self._clear.setdefault((self.said(domains, self.standing), late), {})
        if key not in known:
            known[key] = self.model.clear(firsts(domains, self.model.context), *key)
        return known[key]

    def forget(self) -> None:
        """Ask again: the model has learnt something."""
        self._clear.clear()
