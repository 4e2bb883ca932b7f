"""What was solved once to judge every limit of a build, and how each answers to the spreads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from graph.model import Array, Setting
from graph.sampling import Response, response
from graph.solution import Judged, Question, Solution
from graph.subject import Subject
from graph.variation import Asked, Heard, Variation


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """Everything solved once and needed to judge each limit.

    Parameters
    ----------
    question : Question
        Target and powers.
    fine, coarse : Solution
        Nominal configurations on the full speed grid; nominal and moved ones on a coarser grid.
    variations : tuple of Variation
        Uncertain ratings.
    draws : array, shape (S, V)
        Joint draws in standard deviations [1].
    configuration : mapping of str to int
        Configuration in which a slot is judged alone; 0, the reference, where it is not listed.
    here : int
        Configuration with the car's own parts.
    moved : mapping of (int, int, int) to int
        (variation, sign, configuration) to the moved configuration on the coarse grid.
    offered : mapping of (int, int) to Setting
        (variation, sign) to the setting in which what a part offers to the rules of others is moved.
    together : Setting or None
        The setting of the car's own parts, with what each tells its neighbours; None for the question's.
    linked : mapping of (int, int) to Setting
        As `offered`, for the car's own parts.
    """

    question: Question
    fine: Solution
    coarse: Solution
    variations: tuple[Variation, ...]
    draws: Array
    configuration: Mapping[str, int]
    here: int
    moved: Mapping[tuple[int, int, int], int]
    offered: Mapping[tuple[int, int], Setting] = field(default_factory=dict)
    together: Setting | None = None
    linked: Mapping[tuple[int, int], Setting] = field(default_factory=dict)
    _ends: dict[tuple[int, bool], tuple[Response, Array]] = field(default_factory=dict, init=False, repr=False)
    _farthest: list[Array] = field(default_factory=list, init=False, repr=False)

    def setting(self, configuration: int) -> Setting:
        """Constants of the rules in a configuration: neighbours speak only where the car's own parts are together."""
        return self.together if configuration == self.here and self.together is not None else self.question.setting

    def last_power(self, configuration: int, *, capped: bool = False) -> Response:
        """Answer of the highest power with an operating point to the spreads, shape (1,) [W]."""
        return self._end(configuration, capped)[0]

    def ends(self, configuration: int, *, capped: bool = False) -> Array:
        """The highest power with an operating point in each draw, shape (S,) [W]."""
        return self._end(configuration, capped)[1]

    def _end(self, configuration: int, capped: bool) -> tuple[Response, Array]:
        """Found once for each configuration: every limit that is judged there asks for it."""
        if (configuration, capped) not in self._ends:
            fine, coarse = ((s.capped_power if capped else s.last_power) for s in (self.fine, self.coarse))
            touched = [v for v in self.variations if (v.index, 1, configuration) in self.moved]
            plus, minus = ([self.moved[(v.index, sign, configuration)] for v in touched] for sign in (1, -1))
            found = response(
                fine[[configuration]],
                coarse[plus][:, None],
                coarse[minus][:, None],
                [v.index for v in touched],
                coarse[[configuration]],
            )
            self._ends[configuration, capped] = found, found.sample(self.draws)[:, 0]
        return self._ends[configuration, capped]

    @property
    def farthest(self) -> Array:
        """Largest deviation among the draws of each variation, shape (V,) [1]."""
        if not self._farthest:
            self._farthest.append(np.abs(self.draws).max(axis=0))
        return self._farthest[0]

    def utilisation(self, subject: Subject, configuration: int) -> tuple[Response, Array]:
        """Answer of the worst utilisation to the spreads, and the utilisation over power and speed.

        Parameters
        ----------
        subject : Subject
            The limit.
        configuration : int
            In which it is judged.

        Returns
        -------
        response : Response
            Over the powers [1].
        utilisation : array, shape (P, N)
            Without variation [1].
        """
        answer, stated = self.judged(subject, configuration)
        return answer, stated.counted

    def judged(self, subject: Subject, configuration: int) -> tuple[Response, Judged]:
        """As :meth:`utilisation`, with demand and capacity; the parameters are the same."""
        around = self.setting(configuration)
        shared, linked, asked = Heard(around.shared), Heard(around.linked), Asked()
        stated = self.fine.judged(subject, configuration, asked, setting=replace(around, shared=shared, linked=linked))
        worst = self.fine.worst(stated.counted)
        if not self.variations:
            return response(worst, [], [], [], worst), stated
        said = self._said(around, shared.names, linked.names)
        base = self.coarse.worst(self.coarse.utilisation(subject, configuration, setting=around))
        block = self._block(subject, configuration, around)
        plus: list[Array] = []
        minus: list[Array] = []
        which: list[int] = []
        slot = subject.place.slot.name
        for v in self.variations:
            own = v.slot == slot and v.rating in asked.names
            if not (own or (v.index, 1) in said or (v.index, 1, configuration) in self.moved):
                continue
            for sign, into in ((1, plus), (-1, minus)):
                at = self.moved.get((v.index, sign, configuration), configuration)
                if not own and (v.index, sign) not in said:
                    into.append(block[at])
                    continue
                setting = said.get((v.index, sign), around)
                factors = v.factors(sign) if own else None
                found = self.coarse.utilisation(subject, at, factors, setting=setting)
                into.append(self.coarse.worst(found))
            which.append(v.index)
        return response(worst, plus, minus, which, base), stated

    def _said(self, around: Setting, shared: set[str], linked: set[str]) -> dict[tuple[int, int], Setting]:
        """Settings with something moved to which a rule that heard these names listens."""
        if not shared and not linked:
            return {}
        settings = self.linked if linked else self.offered
        heard = {
            key: any(s.shared.get(name) != around.shared.get(name) for name in shared)
            or any(s.linked.get(name) != around.linked.get(name) for name in linked)
            for key, s in settings.items()
        }
        return {key: s for key, s in settings.items() if heard[key] or heard.get((key[0], -key[1]), False)}

    def _block(self, subject: Subject, configuration: int, setting: Setting) -> dict[int, Array]:
        """Worst utilisation in every moved configuration that comes of one, all of them side by side."""
        rows = sorted({at for (_, _, c), at in self.moved.items() if c == configuration})
        if not rows:
            return {}
        found = self.coarse.worst(self.coarse.utilisation(subject, rows, setting=setting))
        return dict(zip(rows, found, strict=True))
