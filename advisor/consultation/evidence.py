"""What a case is evidence of: fired rules, weighed answers, and how each bears on the suspects.

A case is asked again after every event, and an event concerns little of it. So the last state is kept with all that followed
from it, and of the next one only what differs is worked out: the check that was answered, the rules that its facts concern,
the family that its answer belongs to. It is the same as from nothing, for each part follows from what it is made of alone;
tests hold it to that.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from itertools import islice
from operator import eq, is_
from typing import TYPE_CHECKING, Any, NamedTuple

from advisor.consultation.branches import Branches
from advisor.consultation.episodes import Episode, episodes
from advisor.consultation.facts import Facts, judged
from advisor.consultation.in_force import MOST_TAKES, failed, in_force, readings_in_force, retests_that_count
from advisor.consultation.mending import factors, mended
from advisor.consultation.shown import CONFIRM, shown
from advisor.inference.compiler import Conclusion
from advisor.inference.engine import Engine, Entry, Fired, Place
from advisor.inference.facts import Fact
from advisor.model.case import HOW_LONG, STAYED_GOOD, Answered, Reading, Retested, State
from advisor.model.finding import Because, Judged
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.stage import ASK
from advisor.reasoning.likelihoods import Space
from advisor.reasoning.showing import Shown, showing_chance

if TYPE_CHECKING:
    from advisor.reasoning.families import Family
    from advisor.reasoning.harness import Harness
    from advisor.reasoning.witnesses import Witness

DISCOUNT = 0.5  # strength, in log terms, of an answer that a rule says is worth less
RUNS = ""  # stands among the checks for what the runs say

Concluded = tuple[tuple[Fired, Conclusion], ...]


@dataclass(frozen=True, eq=False)
class Evidence:
    """A state's evidence in the form that ranking takes, with the trace it came from. What did not change is the very same."""

    space: Space
    concluded: Concluded  # everything but what answers say of the suspects
    families: tuple[Family, ...]
    factors: Any  # one a suspect
    harness: Harness | None
    judged: tuple[Judged, ...]
    mended: Mapping[int, frozenset[str]]  # suspects repaired in vain, and the checks that no longer speak of them
    because: tuple[Because, ...]  # every fired rule, in the order of firing

    @property
    def witnesses(self) -> tuple[Witness, ...]:
        """Every answer with the strength that it counts at, by families."""
        return tuple(w for f in self.families for w in f.used)


class _Past(NamedTuple):
    """What repairs, retests and runs make of a case."""

    told: tuple[Episode, ...] = ()
    vain: tuple[Episode, ...] = ()
    repairs: tuple[int, ...] = ()
    retests: tuple[tuple[int, Retested], ...] = ()  # those that are answers


class Gatherer:
    """Evidence of the cases of one machine, from state to state. One gatherer serves one thread."""

    def __init__(self, knowledge: Knowledge, machine: Machine, engine: Engine, space: Callable[[str], Space]) -> None:
        self._knowledge, self._machine, self._engine, self._space_of = knowledge, machine, engine, space
        self._facts, self._trail = Facts(knowledge, machine), Branches(knowledge)
        self._last: Evidence | None = None
        self._moves = 0  # of the engine, when it was asked last
        self._asks = frozenset(c.id for c in knowledge.checks.values() if c.stage == ASK)
        self._confirms = frozenset(c.id for c in knowledge.checks.values() if c.stage == CONFIRM or c.id == HOW_LONG)
        self._forget()

    def of(self, state: State) -> Evidence:
        """The evidence of a state."""
        assert state.opened is not None, "a case starts with its complaint"
        if self._last is None or self._moves != self._engine.moves:  # nothing is kept, or somebody else asked the engine
            self._forget()
        try:
            self._last = self._moved_to(state, self._space_of(state.opened.complaint))
        except BaseException:
            self._last = None
            raise
        self._moves = self._engine.moves
        return self._last

    def _forget(self) -> None:
        """Back to the state in which nothing is known."""
        self._engine.deduce(())
        self._last = None
        self._moves = self._engine.moves
        self._state, self._past = State(), _Past()
        self._by_check: dict[str, dict[int, Answered | Retested]] = {}  # answers, and retests that are answers
        self._given: dict[str, tuple[Answered, ...]] = {}  # of each check, those in force
        self._asked: frozenset[str] = frozenset()  # questions to the operator that were answered
        self._verdicts: tuple[Judged, ...] = ()
        self._sources: dict[str, Set[Fact]] = {}  # facts by what they come from
        self._counts: Counter[Fact] = Counter()  # from how many of these each comes
        self._firings: dict[Place, Fired] = {}
        self._rows: dict[str, dict[Place, Fired]] = {}  # firings that read an answer, by what was asked
        self._discounts: frozenset[str] = frozenset()
        self._comes: Shown | None = None
        self._witnesses: dict[str, tuple[Witness, ...]] = {}  # by what was asked
        self._members: dict[str, set[str]] = {}  # what was asked, by family
        self._families: dict[str, Family] = {}
        self._branches: dict[Place, Because] = {}

    # ---- from one state to the next

    def _moved_to(self, state: State, space: Space) -> Evidence:
        last, past = self._last, self._past_of(state)
        checks = self._answers(state, past)
        anew = last is None or past.told != self._past.told
        read = anew or _other(state.readings, self._state.readings)
        readings = readings_in_force(state, self._machine, past.told) if read else {}
        if read:
            self._verdicts = judged(self._machine, readings)
        came, gone = self._facts_moved(state, checks, read=read)
        new, old = self._engine.change(came, gone) if came or gone else ([], [])
        asked = checks | self._fired(new, old)
        concluded = last.concluded if last is not None else ()
        if last is None or not all(f.rule.only_rows for _, f in (*new, *old)):
            concluded = tuple(
                (f, c)
                for _, f in sorted(self._firings.items(), key=_place)
                if not f.rule.only_rows
                for c in f.conclusions
                if c.kind != "row"
            )
        asked |= self._strengths_moved(state, checks, concluded)
        if anew:
            asked.add(RUNS)
        if last is not None and space is not last.space:  # another complaint: the same answers, other suspects
            self._families, self._branches = {}, {}
            asked |= self._witnesses.keys()
        families = self._weighed(space, asked, past)
        because = self._because(space, asked, families, new, old)
        found = self._evidence(state, space, past, concluded, readings, because, families, read=read, anew=anew)
        self._state, self._past = state, past
        return last if last is not None and _same(last, found) else found

    def _past_of(self, state: State) -> _Past:
        if not state.repairs:
            return _Past()
        told = episodes(self._knowledge, self._machine, state)
        retests = tuple(sorted(retests_that_count(state, told).items()))
        found = _Past(told, failed(told), tuple(sorted(state.repairs)), retests)
        return self._past if found == self._past else found

    def _answers(self, state: State, past: _Past) -> set[str]:
        """Brings the answers in force up to this state; the checks of which some changed."""
        touched: set[str] = set()
        if past.repairs != self._past.repairs or past.retests != self._past.retests:  # the machine is another: all anew
            touched |= self._by_check.keys()
            self._by_check = {}
            events: dict[int, Answered | Retested] = {**state.answers, **dict(past.retests)}
            for number, event in events.items():
                check = _check_of(event)
                self._by_check.setdefault(check, {})[number] = event
                touched.add(check)
        else:
            for number, was, now in _differing(self._state.answers, state.answers):
                if was is not None:
                    touched.add(was.check)
                    del self._by_check[was.check][number]
                if now is not None:
                    touched.add(now.check)
                    self._by_check.setdefault(now.check, {})[number] = now
        for check in touched:
            self._given[check] = in_force(self._by_check.get(check, {}), past.repairs)
        return touched

    def _facts_moved(self, state: State, checks: Set[str], *, read: bool) -> tuple[set[Fact], set[Fact]]:
        """Brings the facts up to this state: those that came, and those that went."""
        moved: dict[str, Set[Fact]] = {f"check {c}": self._facts.answered(self._given[c]) for c in checks}
        before = self._state
        if _other(state.skipped, before.skipped):
            moved["skipped"] = self._facts.skipped(state)
        asked = self._asked
        if checks & self._asks:
            told = {c for c in checks & self._asks if any(isinstance(e, Answered) for e in self._by_check.get(c, {}).values())}
            asked = (asked - checks) | told
        if read or asked != self._asked or _other(state.opened, before.opened) or _other(state.repairs, before.repairs):
            moved["others"] = frozenset(self._facts.others(state, asked, self._verdicts))
        self._asked = asked
        change: Counter[Fact] = Counter()
        for source, facts in moved.items():
            kept = self._sources.get(source, frozenset())
            change.update(facts - kept)
            change.subtract(kept - facts)
            self._sources[source] = facts
        came, gone = set(), set()
        for one, by in change.items():
            count = self._counts[one]
            self._counts[one] = count + by
            if not count and by > 0:
                came.add(one)
            elif count and not count + by:
                gone.add(one)
        return came, gone

    def _fired(self, new: Sequence[Entry], old: Sequence[Entry]) -> set[str]:
        """Brings the firings up to date; what was asked where some that read an answer changed."""
        touched: set[str] = set()
        for entries, added in ((old, False), (new, True)):
            for place, fired in entries:
                for subject in fired.rule.asked:
                    touched.add(subject)
                    if added:
                        self._rows.setdefault(subject, {})[place] = fired
                    else:
                        del self._rows[subject][place]
                if added:
                    self._firings[place] = fired
                else:
                    del self._firings[place]
                    self._branches.pop(place, None)
        return touched

    def _strengths_moved(self, state: State, checks: Set[str], concluded: Concluded) -> set[str]:
        """What was asked where the answers count otherwise now: by a rule, or for the fault shows otherwise."""
        discounts = self._discounts
        if self._last is None or concluded is not self._last.concluded:
            discounts = frozenset(c.subject for _, c in concluded if c.kind == "discount")
        touched = set(discounts ^ self._discounts)
        self._discounts = discounts
        before = self._state
        if (
            self._comes is None
            or checks & self._confirms
            or _other(state.opened, before.opened)
            or _other(state.repairs, before.repairs)
        ):
            looks = {n: e for c in self._confirms for n, e in self._by_check.get(c, {}).items() if isinstance(e, Answered)}
            comes = shown(self._knowledge, state, looks)
            if comes != self._comes:
                self._comes = comes
                touched |= self._rows.keys()
        return touched

    # ---- answers as evidence

    def _weighed(self, space: Space, asked: Iterable[str], past: _Past) -> dict[str, Family]:
        """Weighs again what changed; the families that are other than before."""
        from advisor.reasoning.families import family, family_name

        changed: dict[str, Family] = {}
        touched = set()
        for subject in asked:
            found = self._runs(past) if subject == RUNS else self._read(subject)
            name = family_name(space, subject or STAYED_GOOD) if found or self._witnesses.get(subject) else None
            if name is not None and (found != self._witnesses.get(subject) or name not in self._families):
                touched.add(name)
                self._members.setdefault(name, set()).add(subject)
            self._witnesses[subject] = found
        for name in touched:
            witnesses = [w for subject in sorted(self._members[name]) for w in self._witnesses[subject]]
            changed[name] = family(space, name, witnesses)
            self._families[name] = changed[name]
        return changed

    def _runs(self, past: _Past) -> tuple[Witness, ...]:
        from advisor.reasoning.witnesses import Witness

        if STAYED_GOOD not in self._knowledge.checks:
            return ()
        return tuple(Witness(STAYED_GOOD, r.stayed) for e in past.told for _, r in sorted(e.runs.items()) if r.stayed is not None)

    def _read(self, subject: str) -> tuple[Witness, ...]:
        """The answers to one check or question in the form of evidence."""
        from advisor.reasoning.witnesses import Witness

        fired = [f for _, f in sorted(self._rows.get(subject, {}).items(), key=_place)]
        read = [(f, c.result) for f in fired for c in f.conclusions if c.kind == "row" and c.subject == subject]
        check = self._knowledge.checks.get(subject)
        if not read:
            return ()
        if check is None or check.stage == ASK:
            first, *others = (result for _, result in read)
            return (Witness(subject, first, also=tuple(others)),)
        if check.at == "section":
            return ()
        takes: dict[tuple[str | None, str | None], list[Answered]] = {}
        for a in self._given.get(subject, ()):
            takes.setdefault((a.result, a.place or a.where), []).append(a)
        assert self._comes is not None
        q = showing_chance(check, self._comes, self._knowledge.words.showing)
        strength = DISCOUNT if subject in self._discounts else 1.0
        witnesses: list[Witness] = []
        for f, result in read:
            place = f.premises[0].get("place") or None
            witness = Witness(subject, result, place if check.at is not None else None, strength, q)
            seen = takes.get((result, place), [])[:MOST_TAKES]
            witnesses += [witness._replace(where=a.where, side=a.side) for a in seen] or [witness]
        return tuple(witnesses)

    def _because(
        self, space: Space, asked: Iterable[str], changed: Mapping[str, Family], new: Sequence[Entry], old: Sequence[Entry]
    ) -> tuple[Because, ...]:
        """Every fired rule in the order of firing; only those are put together again whose answer counts otherwise."""
        subjects = {s for name in changed for s in self._members[name]} | set(asked)
        places = {place for s in subjects for place in self._rows.get(s, {})} | {place for place, _ in new}
        if not places and not old and self._last is not None and space is self._last.space:
            return self._last.because
        if self._last is None or space is not self._last.space:
            places = set(self._firings)
        known: dict[str, dict[tuple[str, str | None], Witness]] = {}
        for place in places:
            fired, w = self._firings[place], None
            for c in fired.conclusions:
                if c.kind == "row":
                    if c.subject not in known:
                        known[c.subject] = self._counted(space, c.subject)
                    w = known[c.subject].get((c.result, fired.premises[0].get("place") or None))
            self._branches[place] = self._trail.of(space, fired, w)
        return tuple(map(self._branches.__getitem__, self._engine.places()))

    def _counted(self, space: Space, subject: str) -> dict[tuple[str, str | None], Witness]:
        """The answers to one check as they count, by result and place."""
        from advisor.reasoning.families import family_name

        found = self._families.get(family_name(space, subject)) if self._witnesses.get(subject) else None
        return {} if found is None else {(w.result, w.place or w.where): w for w in found.used if w.check == subject}

    def _evidence(
        self, state: State, space: Space, past: _Past, concluded: Concluded, readings: Mapping[int, Reading],
        because: tuple[Because, ...], changed: Mapping[str, Family], *, read: bool, anew: bool,
    ) -> Evidence:  # fmt: skip
        from advisor.reasoning import harness

        last = self._last if self._last is not None and self._last.space is space else None
        whole = last.families if last is not None else ()
        if changed or last is None:
            whole = tuple(self._families[name] for name in sorted(self._families) if self._families[name].used)
            if last is not None and len(whole) == len(last.families) and all(map(is_, whole, last.families)):
                whole = last.families
        weights = None if last is None else last.harness
        if last is None or read:
            readings = readings or readings_in_force(state, self._machine, past.told)
            weights = harness.evidence(self._machine, [r for _, r in sorted(readings.items())]) if readings else None
        kept = None if anew else last
        weighed = kept.factors if kept is not None and concluded is kept.concluded else None
        if weighed is None:
            weighed = factors(self._knowledge, space, concluded, past.vain)
        told = (
            last.judged
            if last is not None and not _other(state.readings, self._state.readings)
            else judged(self._machine, state.readings)
        )
        away = mended(self._knowledge, space, past.vain) if kept is None else kept.mended
        return Evidence(space, concluded, whole, weighed, weights, told, away, because)


def _place(entry: tuple[Place, Any]) -> Place:
    return entry[0]


def _other(one: object, other: object) -> bool:
    """Whether two differ; it is seen at once where they are the same object."""
    return one is not other and one != other


def _same(one: Evidence, other: Evidence) -> bool:
    return all(getattr(one, name) is getattr(other, name) for name in Evidence.__dataclass_fields__)


def _check_of(event: Answered | Retested) -> str:
    by = event.by if isinstance(event, Retested) else event
    assert isinstance(by, Answered)
    return by.check


def _differing(
    before: Mapping[int, Answered], now: Mapping[int, Answered]
) -> Iterator[tuple[int, Answered | None, Answered | None]]:
    """The numbers under which two states hold another answer, with both."""
    if before is now:
        return
    if all(map(is_, before.values(), now.values())) and all(map(eq, before, now)) and len(before) <= len(now):
        yield from ((number, None, now[number]) for number in islice(now, len(before), None))  # most often one more was given
        return
    for number in [n for n, a in before.items() if now.get(n) is not a]:
        yield number, before[number], now.get(number)
    for number in now.keys() - before.keys():
        yield number, None, now[number]
