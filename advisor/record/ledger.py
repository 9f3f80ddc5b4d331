"""The lists at the end of a record: what was ruled out, what had to wait, warnings, setups, changes and notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from advisor.model.case import Answered, Corrected, KnowledgeChanged, Moved, Noted, Overridden, SetupChanged, Undone
from advisor.model.finding import NOT_LISTED, Held
from advisor.model.stage import ASK, STAGES
from advisor.reasoning.prohibited import matches
from advisor.record.material import Material, titled
from advisor.record.measured import tests

ONCE_HELD = 0.05  # a cause that held this share at some time
NOW_HOLDS = 0.01  # and now holds less than this is called ruled out
AGAINST = -3.0  # decibans from which a test is named as speaking against a cause
RULED_OUT = -7.0  # decibans of all such tests from which on a cause is called ruled out: 5 to 1
LOAD_TEST = "load-test"


@dataclass(frozen=True)
class Against:
    """What speaks against a cause, in decibans below zero, and from which step on it counted."""

    says: str
    decibans: float
    step: int


@dataclass(frozen=True)
class RuledOut:
    """A cause that once held 5 % or more, now holds less than 1 %, and against which tests speak."""

    cause: str
    title: str
    most: float
    most_step: int
    now: float
    fell_step: int
    fell_with: str
    against: tuple[Against, ...]


@dataclass(frozen=True)
class HoldRow:
    """A rule's word that something must wait: from which step, until which, and the steps in which it was overridden."""

    waits: tuple[str, ...]
    until: str
    never: bool  # it is not for this machine: `until` says why
    because: str
    from_step: int
    gone_step: int | None
    overridden: tuple[int, ...]


@dataclass(frozen=True)
class CautionRow:
    """A safety warning and what it was shown for."""

    id: str
    says: str
    why: str
    shown_for: tuple[str, ...]


@dataclass(frozen=True)
class MoveRow:
    """A move of the machine that was made. Minutes are the knowledge's, of one time."""

    title: str
    minutes: float
    times: int
    steps: tuple[int, ...]


@dataclass(frozen=True)
class Change:
    """A correction, an answer taken back, or other knowledge."""

    number: int
    says: str


@dataclass(frozen=True)
class NoteRow:
    number: int
    when: str
    text: str


def ruled_out(m: Material) -> tuple[RuledOut, ...]:
    """Causes that tests spoke against until they held next to none, in the order they fell.

    A cause that fell only because another one rose is not among them: nobody looked at it.
    """
    shares, ends = [m.shares[n] for n in m.turns], (*m.turns[1:], len(m.shares))
    spoken = _spoken_against(m)
    found = []
    for line in m.final.ranking:
        history = [step.get(line.cause, 0.0) for step in shares]
        most = max(history)
        if line.cause == NOT_LISTED or most < ONCE_HELD or history[-1] >= NOW_HOLDS:
            continue
        against = tuple(sorted(spoken.get(line.cause, ()), key=lambda a: a.decibans))
        if sum(a.decibans for a in against) > RULED_OUT:
            continue
        fell = ends[max(i for i, share in enumerate(history) if share >= NOW_HOLDS)]
        says = _event_words(m, fell)
        row = RuledOut(
            line.cause,
            m.cause_title(line.cause),
            most,
            m.turns[history.index(most)],
            history[-1],
            fell,
            says,
            against,
        )
        found.append(row)
    return tuple(sorted(found, key=lambda r: (r.fell_step, -r.most, r.cause)))


def _event_words(m: Material, number: int) -> str:
    from advisor.record.steps import in_words

    words = in_words(m, m.case.events[number])
    return titled(words.title, words.came_back) if words.came_back else words.title


def _spoken_against(m: Material) -> dict[str, list[Against]]:
    """Tests in force now by the cause they speak against, with the step from which on they counted; what was told is none."""
    found: dict[str, list[Against]] = {}
    for b in m.final.because:
        check = m.check(b.rule.split(":")[1]) if b.rule.startswith("check:") else None
        if check is None or check.stage == ASK:
            continue
        weights: dict[str, float] = {}
        for x in b.moved:
            weights[x.cause] = weights.get(x.cause, 0) + x.decibans
        for cause, weight in weights.items():
            if weight <= AGAINST:
                against = Against(titled(check.title, b.says), weight, m.first_counted[b.rule, b.premises])
                found.setdefault(cause, []).append(against)
    return found


def holds(m: Material) -> tuple[HoldRow, ...]:
    """One row a rule and what it asks for first. The repair of a cause that never played a part is not worth a line."""
    spans: dict[tuple[str, str], tuple[int, int]] = {}
    targets: dict[tuple[str, str], dict[Held, None]] = {}
    played: set[str] = set()
    for n in m.turns:
        for s in m.assessments[n].ranking:  # the greatest first
            if s.share < ONCE_HELD:
                break
            played.add(s.cause)
    turns = [i for i, a in enumerate(m.assessments) if not i or a.holds is not m.assessments[i - 1].holds]
    for i, after in zip(turns, (*turns[1:], len(m.assessments)), strict=True):  # between them they are the very same
        here = [h for h in m.assessments[i].holds if h.kind != "cause" or h.target in played]
        for held in here:
            key = (held.rule, held.until)
            spans[key] = (spans.get(key, (i, i))[0], after - 1)
            targets.setdefault(key, {})[held] = None
    return tuple(_hold_row(m, key, spans[key], tuple(found)) for key, found in targets.items())


def _hold_row(m: Material, key: tuple[str, str], span: tuple[int, int], found: tuple[Held, ...]) -> HoldRow:
    rule = m.knowledge.rules.get(key[0])
    against = [n for n, e in m.overridden if any(_overrides(m, e, h) for h in found)]
    gone = None if span[1] == len(m.assessments) - 1 else span[1] + 1
    waits = tuple(dict.fromkeys(_waits(m, held) for held in found))
    return HoldRow(waits, key[1], all(held.never for held in found), rule.because if rule else "", span[0], gone, tuple(against))


def _waits(m: Material, held: Held) -> str:
    if held.kind == "stage":
        return STAGES[held.target]
    return m.check_title(held.target) if held.kind == "check" else f"Repair of: {m.cause_title(held.target)}"


def _overrides(m: Material, event: Overridden, held: Held) -> bool:
    if event.hold.rstrip(".") not in (held.rule, held.until):  # older cases have it with its full stop
        return False
    check = m.check(event.check)
    return held.target in (event.check, check.stage if check else "")


def work(m: Material) -> Iterator[tuple[int, str, Any]]:
    """The checks and repairs that were done, each time: step, title, what the knowledge says of it."""
    for number, by, retest, _ in tests(m):
        if isinstance(m.case.events[number], Corrected):
            continue  # the same work, told anew
        entry = m.check(by.check if isinstance(by, Answered) else LOAD_TEST)
        if entry is not None:
            yield number, f"Retest: {entry.title}" if retest else entry.title, entry
    for number, repair in sorted(m.state.repairs.items()):
        cause = m.knowledge.causes.get(repair.cause)
        if cause is not None:
            yield number, f"Repair: {cause.title}", cause.repair


def cautions(m: Material) -> tuple[CautionRow, ...]:
    """The cautions of rules, of the checks and repairs done, and of the moves to them; each once."""
    shown: dict[str, list[str]] = {}
    for a in m.assessments:
        for caution in a.cautions:
            shown.setdefault(caution, []).append("This case as a whole")
    for title, entry in {(title, id(entry)): (title, entry) for _, title, entry in work(m)}.values():
        tools = [m.knowledge.tools[t] for t in entry.needed() if t in m.knowledge.tools]
        for caution in (*entry.cautions, *(c for t in tools for c in t.cautions)):
            shown.setdefault(caution, []).append(title)
        for part in entry.sequence:
            for rule in m.knowledge.safety.values():
                if rule.caution and rule.doing and matches(rule.doing, part):
                    shown.setdefault(rule.caution, []).append(title)
    for event in m.case.events:
        move = m.knowledge.moves.get(event.move or "") if isinstance(event, Moved) else None
        for caution in move.cautions if move is not None else ():
            shown.setdefault(caution, []).append(move.title if move is not None else "")
    known = m.knowledge.cautions
    return tuple(CautionRow(c, known[c].says, known[c].why, tuple(dict.fromkeys(titles))) for c, titles in shown.items())


def moves(m: Material) -> tuple[MoveRow, ...]:
    """Every move of the machine that was made, each kind once; setups of a case of an older version by their names."""
    made: dict[tuple[str, str | None], list[int]] = {}
    for number, event in enumerate(m.case.events):
        if number in m.state.withdrawn:
            continue
        if isinstance(event, Moved) and event.move is not None:
            made.setdefault((event.move, event.point), []).append(number)
        elif isinstance(event, SetupChanged):
            made.setdefault((event.setup, None), []).append(number)
    found = []
    for (name, point), numbers in made.items():
        entry = m.knowledge.moves.get(name)
        found.append(MoveRow(m.move_title(name, point), entry.minutes if entry else 0.0, len(numbers), tuple(numbers)))
    return tuple(found)


def changes(m: Material) -> tuple[Change, ...]:
    """Everything that was corrected or taken back, and changes of the knowledge."""
    found = []
    for number, event in enumerate(m.case.events):
        if isinstance(event, Corrected | Undone | KnowledgeChanged):
            found.append(Change(number, _event_words(m, number)))
    return tuple(found)


def notes(m: Material) -> tuple[NoteRow, ...]:
    return tuple(NoteRow(n, m.when(n), e.text) for n, e in enumerate(m.case.events) if isinstance(e, Noted))
