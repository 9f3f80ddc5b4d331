"""The suspects of a complaint on a layout, and how likely each result of each check is for each of them."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from advisor.electrical.wiring import wiring_parts
from advisor.evidence.priors import prior_shares
from advisor.evidence.rows import OTHERWISE, lasts_for, row_for, row_names, word_values
from advisor.evidence.rows import rows as named_rows
from advisor.evidence.spots import beside
from advisor.evidence.told import Question, answers, told_chance, told_rows, usual
from advisor.model.finding import NOT_LISTED, NOT_LISTED_TITLE, Suspect
from advisor.model.knowledge import Cause, Check, Complaint, Knowledge, PointsTo
from advisor.model.machine import Machine
from advisor.model.stage import ASK
from advisor.model.wiring import WiringPart
from advisor.model.words import FactorWord

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def rows(check: Check, used: dict[str, float]) -> Floats:
    """P(result | cause, the fault shows) for the names of `row_names`, shape (names, results)."""
    import numpy as np

    return np.array(named_rows(check, used))


def places(cause: Cause, machine: Machine) -> tuple[str | None, ...]:
    """The layout's places at which a cause can sit; (None,) when it has none."""
    if cause.place == "none":
        return (None,)
    found = [e.name for e in machine.elements.values() if e.kind == cause.place and (cause.point is None or e.point == cause.point)]
    return tuple(found) or (None,)


def check_places(check: Check, machine: Machine) -> tuple[str | None, ...]:
    """The places of the layout at which a check can be done; (None,) for a check done once or whose place the layout lacks."""
    if check.at is None or check.at == "section":
        return (None,)
    if check.at == "point":
        reached = {e.point for e in machine.elements.values() if e.point is not None}
        return tuple(p for p in machine.points if p in reached and check.point in (None, p)) or (None,)
    return tuple(e.name for e in machine.elements.values() if e.kind == check.at) or (None,)


def place_for(check: Check, machine: Machine, place: str | None) -> str | None:
    """Where a check is done that concerns a place of the layout: there, or at the point which that terminal belongs to."""
    if place is None or check.at is None or check.at == "section":
        return None
    return (machine.elements[place].point if place in machine.elements else place) if check.at == "point" else place


def plug_of(machine: Machine, place: str | None) -> str | None:
    """The plug that a place of the layout is at: of a terminal its point, else the place itself."""
    element = machine.elements.get(place or "")
    return place if element is None or element.point is None else element.point


@dataclass(frozen=True)
class Speaks:
    """Which row of a check speaks of each suspect, when it is done at a place; arrays have one entry a suspect."""

    which: NDArray[np.intp]  # index into `row_names`; that of `otherwise` where the check is done elsewhere
    part: Floats  # for what part of the suspect it speaks
    lasts: NDArray[np.bool_]  # whether what it looks for is there although the fault does not show
    silent: NDArray[np.bool_]  # the check has no opinion of the suspect


@dataclass
class Space:
    """The suspects of one complaint on one layout, and what every check says of them.

    Arrays have one entry a suspect; the last suspect is "something not on this list".
    """

    knowledge: Knowledge
    machine: Machine
    complaint: Complaint | None  # None for one that the knowledge does not name
    suspects: tuple[Suspect, ...]
    prior: Floats
    times: Mapping[str, Mapping[str, Mapping[str, float]]] = field(default_factory=dict)  # counted: by question, answer and cause
    _tables: dict[tuple[str, str | None, float, bool], Floats] = field(default_factory=dict)
    _rows: dict[str, Floats] = field(default_factory=dict)
    _speaks: dict[tuple[str, str | None, bool], Speaks] = field(default_factory=dict)
    _told: dict[tuple[str, tuple[str, ...]], Floats] = field(default_factory=dict)
    _pointed: dict[frozenset[tuple[WiringPart, FactorWord]], Floats] = field(default_factory=dict)
    _counts: dict[str, int] = field(default_factory=dict)
    _by_cause: dict[str, dict[str, dict[str, float]]] = field(default_factory=dict)
    _rows_of: dict[str, tuple[int, NDArray[np.intp], NDArray[np.bool_], NDArray[np.bool_]]] = field(default_factory=dict)
    memo: dict[Hashable, Any] = field(default_factory=dict)  # what others work out from the space and need again

    @cached_property
    def cause_of(self) -> NDArray[np.intp]:
        """For each suspect the number of its cause among those of `by_cause`."""
        import numpy as np

        number = {cause: n for n, cause in enumerate(self.by_cause)}
        return np.array([number[s.cause] for s in self.suspects], dtype=np.intp)

    def by_causes(self, values: Floats) -> Floats:
        """A value of each suspect added up for each cause, in the order of `by_cause`."""
        import numpy as np

        found: Floats = np.bincount(self.cause_of, weights=values, minlength=len(self.by_cause)).astype(float, copy=False)
        return found

    @cached_property
    def first(self) -> dict[str, int]:
        """For each cause its first suspect."""
        return {cause: members[0] for cause, members in self.by_cause.items()}

    @cached_property
    def by_cause(self) -> dict[str, list[int]]:
        """For each cause its suspects, in order."""
        found: dict[str, list[int]] = {}
        for i, s in enumerate(self.suspects):
            found.setdefault(s.cause, []).append(i)
        return found

    @cached_property
    def used(self) -> dict[str, float]:
        return word_values(self.knowledge)

    def title(self, suspect: Suspect) -> str:
        if suspect.cause == NOT_LISTED:
            return NOT_LISTED_TITLE
        title = self.knowledge.causes[suspect.cause].title
        return f"{title} ({suspect.place})" if suspect.place else title

    @cached_property
    def titles(self) -> tuple[str, ...]:
        """The title of each suspect."""
        return tuple(map(self.title, self.suspects))

    def question(self, name: str) -> Question:
        """A question to the operator: of the intake, or a check of the stage `ask`."""
        return self.knowledge.intake[name] if name in self.knowledge.intake else self.knowledge.checks[name]

    def asks(self, name: str) -> bool:
        """Whether an answer to this is what the operator told."""
        return name in self.knowledge.intake or self.knowledge.checks[name].stage == ASK

    def table(self, check: str, place: str | None, showing: float = 1.0, *, further: bool = False) -> Floats:
        """P(result | suspect), shape (results, suspects), when the fault shows with this chance while the check is done.

        `further`: another cavity of the same plug has been looked at, and what was found there spoke of the suspects
        without a place.
        """
        key = (check, place, round(showing, 4), further)
        if key not in self._tables:
            entry = self.knowledge.checks[check]
            if entry.stage == ASK:
                found = self.asked(entry)
            else:
                speaks = self.speaks(entry, place, further=further)
                found = self.by_part(self.seen(self.rows(check), speaks, showing), [r.points_to for r in entry.results], speaks)
            found.setflags(write=False)
            self._tables[key] = found
        return self._tables[key]

    def seen(self, values: Floats, speaks: Speaks, showing: float, only: Sequence[int] | None = None) -> Floats:
        """P(result | suspect) from the rows of a check, (results, suspects); of several such `rows` at once, one for each.

        Where the fault does not show, the row `otherwise`, that of the last suspect, speaks instead. A check that has no opinion
        of a suspect is as likely to come out one way as another for the rest of the suspects, as they stood at the beginning:
        so its answer leaves that suspect alone. Any answer may be wrong, whatever is true. `only`: these of the results.
        """
        import numpy as np

        by_result = np.swapaxes(values if only is None else values[..., only], -1, -2)
        weight = np.where(speaks.lasts, 1.0, showing) * speaks.part
        found = by_result.take(speaks.which, axis=-1) * weight + by_result[..., speaks.which[-1], None] * (1 - weight)
        if speaks.silent.any():
            told = np.where(speaks.silent, 0.0, self.prior)
            found[..., speaks.silent] = (found @ (told / told.sum()))[..., None]
        wrong = self.knowledge.words.wrong_answer
        mixed: Floats = wrong / values.shape[-1] + (1 - wrong) * found
        return mixed

    def by_part(self, chances: Floats, points: Sequence[PointsTo], speaks: Speaks | None = None) -> Floats:
        """P(result | suspect), (results, suspects), with what each result says of the part of the wiring a suspect sits in.

        A result that points there comes so much more often there than the cause alone says; the chances still sum to one.
        Where a check has no row of its own for a suspect, its part of the wiring says nothing either.
        """
        import numpy as np

        if not any(points):
            return chances
        weighed: Floats = chances * np.array([self.pointed(p) for p in points])
        weighed /= weighed.sum(axis=0)
        if speaks is None:
            return weighed
        own = (speaks.which != speaks.which[-1]) & ~speaks.silent
        found: Floats = np.where(own, weighed, chances)
        return found

    def pointed(self, to: PointsTo) -> Floats:
        """How much more often than elsewhere something comes with each suspect, by its part of the wiring, (suspects,)."""
        import numpy as np

        key = frozenset(to.items())
        if key not in self._pointed:
            worth = self.knowledge.words.factor
            of = {parts: _pointed(worth, parts, to) for parts in set(self._parts)}
            self._pointed[key] = np.array([of[parts] for parts in self._parts])
        return self._pointed[key]

    @cached_property
    def _parts(self) -> tuple[frozenset[WiringPart], ...]:
        """For each suspect the parts of the wiring it sits in; none without a place."""
        known = wiring_parts(self.machine)
        return tuple(known.get(s.place or "", frozenset()) for s in self.suspects)

    def asked(self, question: Question) -> Floats:
        """P(answer | suspect) of a question, (answers, suspects), as if only one answer were given."""
        import numpy as np

        names = answers(question)
        by_cause = self._told_rows(question)
        table = np.array([[by_cause[c][a] for c in self.by_cause] for a in names]).reshape(len(names), len(self.by_cause))
        found = np.take(table, self.cause_of, axis=1)
        chances: Floats = found / found.sum(axis=0)
        return chances if question.many else self.by_part(chances, self._points(question))

    def _points(self, question: Question) -> list[PointsTo]:
        """What each answer that is evidence says of the parts of the wiring; nothing where the complaint has said it before."""
        silent = self.complaint is not None and question.id in self.complaint.answers
        return [{} if silent else r.points_to for r in question.results if r.usual is not None]

    def told(self, name: str, given: tuple[str, ...]) -> Floats:
        """P(these answers to a question | suspect), (suspects,), against their chance on an average machine.

        What the complaint itself says tells nothing more: how likely a cause is reported so counts in its prior share.
        """
        import numpy as np

        if (name, given) not in self._told:
            question = self.question(name)
            chances = {c: told_chance(question, given, row) for c, row in self._told_rows(question).items()}
            found = np.array([chances[s.cause] for s in self.suspects])
            names = answers(question)
            if not question.many and given and given[0] in names and any(self._points(question)):
                found = self.asked(question)[names.index(given[0])]
            if self.complaint is not None and given == (self.complaint.answers.get(name),):
                found = np.ones(len(self.suspects))
            self._told[name, given] = found / found[-1]
        return self._told[name, given]

    def _told_rows(self, question: Question) -> dict[str, dict[str, float]]:
        """`told_row` of a question for each cause among the suspects."""
        if question.id not in self._by_cause:
            found = told_rows(question, self._causes, self.knowledge.words)
            counted, base = self.times.get(question.id, {}), usual(question)
            if counted and not question.many:  # how much more often a cause comes on such a machine, that many times the usual
                found = {
                    c: {a: base[a] * counted[a].get(c, 1.0) if a in counted and self._causes[c] else p for a, p in row.items()}
                    for c, row in found.items()
                }
            self._by_cause[question.id] = found
        return self._by_cause[question.id]

    @cached_property
    def _causes(self) -> dict[str, Cause | None]:
        """The causes among the suspects; None for what is not on the list."""
        names = dict.fromkeys(s.cause for s in self.suspects)
        return {n: self.knowledge.causes.get(n) for n in names}

    def rows(self, check: str) -> Floats:
        """`rows` of a check of this knowledge."""
        if check not in self._rows:
            self._rows[check] = rows(self.knowledge.checks[check], self.used)
        return self._rows[check]

    def speaks(self, check: Check, place: str | None, *, further: bool = False) -> Speaks:
        """Which row speaks of each suspect when the check is done at a place; `otherwise` when the suspect sits elsewhere."""
        import numpy as np

        key = (check.id, place, further)
        if key not in self._speaks:
            other, row_of, lasts, silent = self._opinions(check)
            near = self._near(check, place)
            here = np.ones(len(self.suspects), dtype=bool)
            part = self._part_of(check, place, further=further)
            if near is not None:
                here[:] = False
                here[[i for at in near for i in self._at.get(at, ())]] = True
                for i, chance in self._through_plug(check, place):
                    here[i], part[i] = True, chance
            self._speaks[key] = Speaks(
                np.where(here, row_of[self.cause_of], other),
                part,
                lasts[self.cause_of],
                silent[self.cause_of] & here,
            )
        return self._speaks[key]

    def _opinions(self, check: Check) -> tuple[int, NDArray[np.intp], NDArray[np.bool_], NDArray[np.bool_]]:
        """The row `otherwise` of a check; for each cause its row, whether what is looked for lasts, and whether it has none."""
        import numpy as np

        if check.id not in self._rows_of:
            index = {cause: i for i, cause in enumerate(row_names(check))}
            causes = self._causes.values()
            names = [OTHERWISE if entry is None else row_for(check, entry) for entry in causes]
            self._rows_of[check.id] = (
                index[OTHERWISE],
                np.array([index[name or OTHERWISE] for name in names], dtype=np.intp),
                np.array([entry is not None and lasts_for(check, entry) for entry in causes]),
                np.array([name is None for name in names]),
            )
        return self._rows_of[check.id]

    @cached_property
    def _at(self) -> dict[str | None, list[int]]:
        """For each place the suspects that sit there; those without a place under None."""
        found: dict[str | None, list[int]] = {}
        for i, s in enumerate(self.suspects):
            found.setdefault(s.place, []).append(i)
        return found

    def _part_of(self, check: Check, place: str | None, *, further: bool) -> Floats:
        """For each suspect the chance that it sits where the check is done, if it sits at such a place at all.

        One without a place may sit at any of the places: no reaction at one of three plugs says a third of what no reaction
        at all three does. At a terminal it is the plug that counts, and a further cavity of it says nothing new.
        """
        import numpy as np

        found = np.ones(len(self.suspects))
        if place is not None and check.at is not None:
            found[self._at.get(None, [])] = 0.0 if further else 1 / self._spots(check)
        return found

    def _spots(self, check: Check) -> int:
        """The number of places that a check speaks of one by one: plugs for a check at terminals."""
        if check.id not in self._counts:
            places = check_places(check, self.machine)
            self._counts[check.id] = len({plug_of(self.machine, p) for p in places} if check.at == "terminal" else places)
        return self._counts[check.id]

    def _through_plug(self, check: Check, place: str | None) -> Iterator[tuple[int, float]]:
        """The suspects at other cavities of the same plug, each with the chance that it shows at this one too."""
        for i in self._in_plug.get(plug_of(self.machine, place), ()) if check.whole_plug else ():
            suspect = self.suspects[i]
            word = check.whole_plug.get(suspect.cause) or check.whole_plug.get(self.knowledge.causes[suspect.cause].kind)
            if suspect.place != place and word is not None:
                yield i, self.used[word]

    @cached_property
    def _in_plug(self) -> dict[str | None, list[int]]:
        """For each plug the suspects at its cavities."""
        found: dict[str | None, list[int]] = {}
        for place, suspects in self._at.items():
            if place is not None:
                found.setdefault(plug_of(self.machine, place), []).extend(suspects)
        return found

    def _near(self, check: Check, place: str | None) -> frozenset[str | None] | None:
        """The places that a check speaks of when it is done at one; None for every place."""
        if check.at is None or place is None:
            return None
        return frozenset({None}) | (beside(self.machine, place) if check.at == "point" else {place})


def space(knowledge: Knowledge, machine: Machine, complaint: str) -> Space:
    """The suspects of a complaint with their prior shares.

    prior(cause) is how often the cause is met times how likely it is to be reported this way. A cause with several places
    divides its share among them, equally but for what the cause and the complaint say of parts of the wiring. People choose
    the complaint, and may choose another than the knowledge expects: so every cause stays possible with a small chance. The
    prior of "something not on this list" is a fixed share. Shares that were counted from closed cases stand in place of the
    words.
    """
    import numpy as np

    words, wiring, reported_as = knowledge.words, wiring_parts(machine), knowledge.complaints.get(complaint)
    told = reported_as.points_to if reported_as is not None else {}
    suspects: list[Suspect] = []
    weights: list[float] = []
    shares = prior_shares(knowledge, complaint)
    for cause in knowledge.causes.values():
        weight = shares[cause.id]
        spots = places(cause, machine)
        suspects += [Suspect(cause.id, spot) for spot in spots]
        here = [_pointed(words.factor, wiring.get(spot or "", frozenset()), cause.points_to, told) for spot in spots]
        weights += [weight * one / sum(here) for one in here]
    listed = np.array(weights, dtype=float)
    listed *= (1 - words.unlisted_share) / listed.sum() if len(weights) else 1.0
    prior = np.append(listed, words.unlisted_share if len(weights) else 1.0)
    counted = knowledge.experience.features.get(complaint, {})
    times = {question: {a: entry.times for a, entry in by.items()} for question, by in counted.items()}
    return Space(knowledge, machine, reported_as, (*suspects, Suspect(NOT_LISTED)), prior, times)


def _pointed(worth: Mapping[FactorWord, float], own: frozenset[WiringPart], *points: PointsTo) -> float:
    """How much more often than elsewhere something comes in these parts of the wiring."""
    return math.prod(worth[word] for to in points for part, word in to.items() if part in own)
