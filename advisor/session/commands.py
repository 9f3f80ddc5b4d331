"""The words at a step: each takes the conversation, what was typed after it, and the step."""

from __future__ import annotations

from typing import Final, Literal

from advisor.consultation import answers
from advisor.consultation.episodes import retest_fits
from advisor.consultation.ground import limits
from advisor.errors import InputError, short
from advisor.model.case import (
    LAYOUT,
    Answered,
    Corrected,
    Event,
    Limited,
    Moved,
    Reading,
    Repaired,
    Retested,
    Skipped,
    Undone,
    fold,
)
from advisor.model.finding import Step
from advisor.model.knowledge import Check
from advisor.model.question import Question
from advisor.model.undo import taken_back
from advisor.model.words import ResultWords
from advisor.reasoning.likelihoods import places
from advisor.session import typed
from advisor.session.closing import ask_closing
from advisor.session.conversation import Command, Conversation
from advisor.session.describe import describe
from advisor.session.exchanging import layout_word, machine_word
from advisor.session.intake import IntakeTalk, titles
from advisor.session.room import Talk, ask, choices, in_turn, note
from advisor.session.running import ran
from advisor.session.said import Cautions, More, WholeCase, Why
from advisor.session.search import MOST, choose, offer
from advisor.session.spot_talk import located

HELP: Final = (
    ("number or word", "the answer to the question"),
    ("why", "why this is asked, what each answer does; why all: what else can be done, and what waits"),
    ("skip", "leave this step out (skip CHECK: another one; skip why TEXT: the reason)"),
    ("other", "list other steps by number; other WORDS finds a check by its title"),
    ("back", "take back the last answer"),
    ("note TEXT", "write something down for the record"),
    ("more", "the rest of this step: the whole reason and common mistakes"),
    ("cautions", "all cautions of this step in full"),
    ("show", "the whole ranking and what was done so far"),
    ("correct", "change an earlier answer, of the intake too; correct CHECK = RESULT in one line"),
    ("missing TOOL", "this tool, setup or second-person is not here; have TOOL: now it is"),
    ("repair CAUSE", "say what was repaired; retest CHECK; run HOURS; close CAUSE (or close none)"),
    ("layout", "choose another generic layout; machine FILE: give or change the machine file"),
    ("stands", "how the machine stands; say what somebody has moved"),
    ("pause", "save and leave; advisor resume goes on"),
)


def _why(c: Conversation, rest: str, step: Step) -> Talk[None]:
    if c.choosing:
        c.room.say(f"The program would do: {step.title}. Type go to take it over.", strong=True, hang=2)
    whole = rest.lower() == "all"
    c.room.said.append(Why(c.situation, step, c.consultation.assess(c.room.case, robust=True) if whole else c.assessment, whole))
    for line in c.room.seen(c.room.case):
        c.room.say(line, hang=2)
    yield from ()


def _needs_step(c: Conversation) -> None:
    """Raises InputError where the technician has not chosen a step yet."""
    if c.choosing:
        raise InputError("no step is chosen yet", "Type the name of a check, or other for the list.")


def _show(c: Conversation, rest: str, step: Step) -> Talk[None]:
    c.room.said.append(WholeCase(c.room.case, c.assessment))
    yield from ()


def _help(c: Conversation, rest: str, step: Step) -> Talk[None]:
    for word, says in HELP:
        c.room.say(f"{word}: {says}", indent=2, hang=2)
    yield from ()


def _more(c: Conversation, rest: str, step: Step) -> Talk[None]:
    _needs_step(c)
    c.room.said.append(More(c.situation, step, c.familiar))
    yield from ()


def _cautions(c: Conversation, rest: str, step: Step) -> Talk[None]:
    """All cautions of this step in full, those too that were told before."""
    _needs_step(c)
    if not c.in_force:
        c.room.say("No caution of its own stands for this step. Local rules and the maker's instructions come first.", hang=2)
    c.room.said.append(Cautions(c.in_force))
    yield from ()


def _stands(c: Conversation, rest: str, step: Step) -> Talk[None]:
    yield from c.stands()


def _note(c: Conversation, rest: str, step: Step) -> Talk[None]:
    yield from note(c.room, rest)


SKIPPED: Final = "Type a word of its title, such as skip splice. Type skip alone to leave out the step that is asked."


def _skip(c: Conversation, what: str, step: Step) -> Talk[None]:
    """`skip [CHECK [PLACE]] [why TEXT]`: the reason goes into the record."""
    what, why = typed.reason(what)
    name, place = typed.two(what)
    if name is None:
        _needs_step(c)
        if step.kind not in ("check", "reading", "retest"):
            raise InputError("this step cannot be skipped", "Choose another with other, or pause.")
        name, place = step.id, step.place
    elif name not in c.consultation.knowledge.checks:
        name, place = (yield from choose(c.room, what, _open(c), "check", SKIPPED)), None
    c.line(skip=name, place=place, why=why)


def _back(c: Conversation, rest: str, step: Step) -> Talk[None]:
    """Takes the last answer back and asks that very question again."""
    numbers = taken_back(c.room.case)
    if c.chosen is not None and c.chosen is not c.returned:
        c.chosen = None
    elif not numbers:
        raise InputError("nothing is left to take back", "Answer the question, or pause.")
    else:
        event = c.room.case.events[numbers[0]]
        c.room.say(f"Taken back: {describe(c.consultation, event)}", hang=2)
        if any(isinstance(c.room.case.events[n], Moved) for n in numbers):
            c.room.say("Its moves are taken back too. Did you make them? Type stands and say how the machine stands now.", hang=2)
        c.store(*(Undone(number=n) for n in numbers))
        c.chosen = c.returned = _asked_by(c, event)
    yield from ()


def _asked_by(c: Conversation, event: Event) -> Step | None:
    """The step that an event answered, to be asked again; None where it is what comes next anyway."""
    by = event.by if isinstance(event, Retested) else event
    if isinstance(by, Reading):
        words = [answers.LOAD_TEST, by.circuit, by.start, by.end]
    elif isinstance(by, Repaired):
        return typed.repair_named(c.situation, by.cause, by.place)
    elif isinstance(by, Answered | Skipped):
        words = [by.check, *([by.place] if by.place else [])]
    else:
        return None
    try:
        found = typed.step_named(c.situation, words, "retest" if isinstance(event, Retested) else "check")
    except InputError:
        return None
    return None if (found.kind, found.key) == (c.next.kind, c.next.key) else found


def _correct(c: Conversation, what: str, step: Step) -> Talk[None]:
    """`correct WHAT [PLACE] = RESULT or number`; without the result it is asked, without anything the answers are listed."""
    left, equals, right = what.partition("=")
    name, place = typed.two(left)
    checks, state = c.consultation.knowledge.checks, fold(c.room.case)
    if name in checks and equals:
        yield from _corrected(c, name, place, right.strip())
        return
    told = {f"told:{q}": title for q, title in titles(c.consultation.knowledge, state).items()}
    given = {str(n): describe(c.consultation, e) for n, e in state.answers.items()}
    chosen = yield from _answer_meant(c, left.strip(), {**given, **told})
    if chosen in given:
        answer = state.answers[int(chosen)]
        text = right.strip() if equals else (yield from _again(c, checks[answer.check]))
        yield from _corrected(c, answer.check, answer.place, text)
    elif chosen == f"told:{LAYOUT}":
        yield from layout_word(c, "", step)
    else:
        yield from IntakeTalk(c.room).one(chosen.removeprefix("told:"))
        c.told()


def _corrected(c: Conversation, name: str, place: str | None, text: str) -> Talk[None]:
    """Stores the right answer to a check."""
    check = c.consultation.knowledge.checks[name]
    event = c.event(correct=name, place=place, **typed.outcome(check, text, _words(c)))
    c.say_understood(check, text, event.by if isinstance(event, Corrected) else event)
    c.store((yield from located(c.room, c.consultation, event)))


def _answer_meant(c: Conversation, text: str, entries: dict[str, str]) -> Talk[str]:
    """An answer by words or by number: that of the list of `correct`, or that of the whole case in `show`. Two are asked."""
    if not (text.isascii() and text.isdigit()):
        return (yield from choose(c.room, text, entries, "answer"))
    listed = list(entries)[int(text[:9]) - 1 : int(text[:9])] if text.strip("0") else []
    meant = dict.fromkeys([*listed, *([text] if text in entries else [])])
    if not meant:
        raise InputError(f"there is no answer {short(text)}", "Type correct alone for the list.")
    if len(meant) == 1:
        return next(iter(meant))
    return (yield from offer(c.room, {name: entries[name] for name in meant}, "Which answer?"))


def _words(c: Conversation) -> ResultWords:
    return c.consultation.knowledge.words.result_words


def _again(c: Conversation, check: Check) -> Talk[str]:
    """The right answer to a check that was answered before."""
    pairs = tuple((r.id, r.says) for r in check.results)
    c.room.say(check.question, strong=True, hang=2)
    c.room.options(pairs)
    question = Question(
        kind="correct", text=check.question, choices=choices(pairs), example="1", why="It takes the place of the old one."
    )

    def tried(text: str) -> str:
        typed.outcome(check, text, _words(c))
        return text

    return (yield from ask(c.room, question, tried))


def _limit(c: Conversation, what: str, *, available: bool) -> Talk[None]:
    tools = c.consultation.knowledge.tools
    known = {name: tools[name].title if name in tools else name.replace("-", " ") for name in limits(c.consultation.knowledge)}
    gone = fold(c.room.case).unavailable
    entries = {n: t for n, t in known.items() if (n in gone) == available} if not what else known
    if not entries:
        raise InputError("nothing is marked as missing", "Type missing and the name of a tool.")
    name = yield from choose(c.room, what, entries, "tool or state of the machine")
    c.room.say(f"{'Here again' if available else 'Not here'}: {known[name]}.", hang=2)
    c.store(Limited(what=name, available=available))


def _missing(c: Conversation, what: str, step: Step) -> Talk[None]:
    yield from _limit(c, what, available=False)


def _have(c: Conversation, what: str, step: Step) -> Talk[None]:
    yield from _limit(c, what, available=True)


def _other(c: Conversation, what: str, step: Step) -> Talk[None]:
    """Lists other steps, or chooses one: another check by words, a place, or a load test of a run."""
    checks, alternatives = c.consultation.knowledge.checks, c.assessment.alternatives
    if what.isascii() and what.isdigit():
        if not 1 <= int(what[:9]) <= len(alternatives):
            raise InputError(f"there is no step {short(what)}", "Type other alone for the list.")
        chosen = alternatives[int(what) - 1]
    elif what.split()[:1] and what.split()[0] in checks:
        chosen = yield from _named(c, what.split(), "check")
    elif what:
        name = yield from choose(c.room, what, _open(c), "check")
        chosen = yield from _named(c, [name, *(_of_a_run(c, what) if name == answers.LOAD_TEST else ())], "check")
    else:
        chosen = yield from _listed(c)
    c.chosen = chosen
    _say_price(c, chosen)
    _say_hold(c, chosen)


def _listed(c: Conversation) -> Talk[Step]:
    """A step from the list: what comes near the one advised, then the checks of each system."""
    alternatives = c.assessment.alternatives
    rows = {
        str(i): f"{o.title}: {o.minutes:.0f} min now, {o.to_the_end - c.next.to_the_end:+.0f} min to the end"
        for i, o in enumerate(alternatives)
    }
    systems: dict[str, dict[str, str]] = {}
    for name, title in _open(c).items():
        systems.setdefault(c.consultation.knowledge.checks[name].system, {})[name] = title
    rows |= {
        system: f"{system.replace('-', ' ')}: {len(found)} check{'s' if len(found) != 1 else ''}"
        for system, found in systems.items()
    }
    which = yield from offer(c.room, rows, "Which step instead?")
    if which not in systems:
        return alternatives[int(which)]
    name = yield from offer(c.room, systems[which], "Which check?")
    return (yield from _named(c, [name], "check"))


def _open(c: Conversation) -> dict[str, str]:
    """The checks that were neither answered nor left out, with their titles."""
    state = fold(c.room.case)
    done = {a.check for a in state.answers.values()} | {s.check for s in state.skipped.values()}
    return {name: check.title for name, check in c.consultation.knowledge.checks.items() if name not in done}


def _named(c: Conversation, words: list[str], kind: Literal["check", "retest"]) -> Talk[Step]:
    """A step by name, with its place asked where it needs one, and the run of a load test."""
    if words[0] == answers.LOAD_TEST and (len(words) != 4 or c.consultation.machine.section(*words[1:]) is None):
        words = [words[0], *(yield from _run_of(c, words[1:]))]
    spots, optional = typed.spots_for(c.situation, words)
    place = (yield from c.place(spots, optional)) if spots else None
    return typed.step_named(c.situation, words, kind, place)


def _of_a_run(c: Conversation, what: str) -> list[str]:
    """The circuit and the points that stand among some words."""
    machine = c.consultation.machine
    return [word for word in what.lower().split() if word in machine.circuits or word in machine.points]


def _run_of(c: Conversation, named: list[str]) -> Talk[tuple[str, str, str]]:
    """One run of the layout by number: first the circuit, then from where to where. `named` is what was typed of it."""
    runs = [(s.circuit, s.start, s.end) for s in c.consultation.machine.sections()]
    fitting = [run for run in runs if all(word in run for word in named)] or runs
    circuits = {run[0]: run[0] for run in fitting}
    told: dict[str, str] = {"circuit": next(iter(circuits))}

    def circuit() -> Talk[None]:
        told["circuit"] = yield from offer(c.room, circuits, "Which circuit?")

    def ends() -> Talk[None]:
        pairs = {f"{run[1]} {run[2]}": f"{run[1]} to {run[2]}" for run in fitting if run[0] == told["circuit"]}
        told["ends"] = next(iter(pairs)) if len(pairs) == 1 else (yield from offer(c.room, pairs, "From where to where?"))

    yield from in_turn(*([circuit] if len(circuits) > 1 else []), ends)
    start, _, end = told["ends"].partition(" ")
    return told["circuit"], start, end


def _say_price(c: Conversation, step: Step) -> None:
    """What a step that the technician chose costs against the one advised."""
    if not c.blind and step.key in c.assessment.to_the_end and step.key != c.next.key:
        extra = c.assessment.to_the_end[step.key] - c.next.to_the_end
        says = f"Your choice costs about {extra:.0f} min more." if extra >= 1 else "Your choice costs no extra time."
        c.room.say(f"{says} The advice was: {c.next.title}.", hang=2)


def _say_hold(c: Conversation, step: Step) -> None:
    for hold in c.situation.held(c.consultation.knowledge.checks[step.id]):
        says = f"A rule says: {hold.until}" if hold.never else f"A rule says: wait until {hold.until[:1].lower() + hold.until[1:]}."
        c.room.say(says, strong=True, hang=2)
        c.room.say("If you go on, the record says that you did.", hang=2)


def _repair(c: Conversation, what: str, step: Step) -> Talk[None]:
    """`repair CAUSE [PLACE]`: the repair chosen by the technician, shown before it is done."""
    name, place = typed.two(what)
    if name is None or name not in c.consultation.knowledge.causes:
        ranked = {r.cause: r.title for r in c.assessment.ranking if r.cause in c.consultation.knowledge.causes}
        likely = dict(list(ranked.items())[:MOST]) if not what else ranked
        name, place = (yield from choose(c.room, what, likely, "cause")), None
    spots = tuple(p for p in places(c.consultation.knowledge.causes[name], c.consultation.machine) if p is not None)
    if place is None and spots:
        place = yield from c.place(spots, True)
    event = c.event(repair=name, place=place)
    assert isinstance(event, Repaired)
    cause = c.consultation.knowledge.causes[event.cause]
    share = next((s.share for s in c.assessment.ranking if s.cause == event.cause), 0.0)
    if share < 0.01:
        c.room.say(f"Think again: it is {share:.1%} likely that the cause is {cause.title.lower()}.", strong=True, hang=2)
    c.chosen = typed.repair_named(c.situation, event.cause, place)


def _retest(c: Conversation, what: str, step: Step) -> Talk[None]:
    state, knowledge, machine = fold(c.room.case), c.consultation.knowledge, c.consultation.machine
    if not state.repairs:
        raise InputError("nothing was repaired yet", "Type other CHECK to do it as a check, or repair CAUSE first.")
    words = what.split()
    if not words or words[0] not in knowledge.checks:
        before = {a.check: knowledge.checks[a.check].title for a in state.answers.values()}
        every = {n: check.title for n, check in knowledge.checks.items()}
        words = [(yield from choose(c.room, what, every if what or not before else before, "check"))]
    step = yield from _named(c, words, "retest")
    run = (step.circuit, step.start or "", step.end or "") if step.circuit else None
    if not retest_fits(knowledge, machine, state, state.repairs[max(state.repairs)], step.id, step.place, run):
        c.room.say("This is not the test, or not the place, of the repair. It does not prove the repair.", strong=True)
        c.room.say("It goes into the record, and the retest stays open.")
    c.chosen = step


def _run(c: Conversation, what: str, step: Step) -> Talk[None]:
    if not what:
        raise InputError("the hours are not said", "Type them after the word, such as run 6.5 h.")
    try:
        yield from ran(c, what, step)
    except InputError as error:
        raise InputError(error.what, f"{error.hint} Type it after the word, such as run 6.5 h.") from None


def _close(c: Conversation, what: str, step: Step) -> Talk[None]:
    c.room.store((yield from ask_closing(c.room, c.consultation, c.situation, what)))


COMMANDS: Final[dict[str, Command]] = {
    "why": _why, "show": _show, "help": _help, "?": _help, "skip": _skip, "other": _other, "back": _back, "note": _note,
    "more": _more, "cautions": _cautions, "layout": layout_word, "machine": machine_word,
    "stands": _stands, "correct": _correct, "missing": _missing, "have": _have, "repair": _repair, "retest": _retest,
    "run": _run, "close": _close,
}  # fmt: skip
