"""The questions before the first check: complaint, codes, conditions, how often in how many hours."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.consultation.counts import counted, hours_say
from advisor.consultation.intake_told import intake_answers
from advisor.consultation.intake_words import told_says, told_title
from advisor.consultation.quantities import number
from advisor.errors import InputError, short
from advisor.model.case import CODES, COMPLAINT, HOURS, LAYOUT, OCCURRENCES, OPERATOR_WORDS, State, Told, fold
from advisor.model.knowledge import Intake, Knowledge
from advisor.model.question import Question
from advisor.model.trouble_code import TroubleCode, parse_code
from advisor.session.hearing import Ear
from advisor.session.laying_out import ask_layout
from advisor.session.picking import meant, pick
from advisor.session.results import several
from advisor.session.room import Back, Room, Talk, ask, choices, keeping, taken_as
from advisor.session.words import WordsTalk

_COUNTS = {
    OCCURRENCES: ("How many times did it happen?", ("times",), "6", "It tells how long you can look without seeing the fault."),
    HOURS: (
        "In how many working hours?", ("h", "min"), "14 h",
        "Times and hours tell how long the machine must run after the repair.",
    ),
}  # fmt: skip


def ask_complaint(room: Room, *, first: bool = True) -> Talk[str]:
    """The complaint that a case begins with, or goes on with. Raises Back where it is not the first question of all."""
    pairs = tuple((c.id, c.title) for c in room.knowledge.complaints.values())
    room.heading("What is the complaint?")
    room.options(pairs)

    def parse(text: str) -> str:
        if not text:
            raise InputError("a case starts with its complaint", "Type the number of the line that comes nearest.")
        try:
            return pick(text, pairs)
        except InputError as error:
            heard = tuple(f.answer for f in Ear(room.knowledge).hear(text) if f.question == COMPLAINT)[:3]
            raise InputError(error.what, meant(heard, pairs) if heard else error.hint) from None

    question = Question(
        kind="complaint", text="What is the complaint?", prompt="complaint", choices=choices(pairs), example="1",
        why="It decides which causes come first.",
    )  # fmt: skip
    while True:
        try:
            return (yield from ask(room, question, parse))
        except Back:
            if not first:
                raise
            room.say("This is the first question. Type pause to leave.")


def pending(knowledge: Knowledge, state: State) -> tuple[str, ...]:
    """The questions that were not answered yet, in order; none for a case that began with all its answers."""
    if state.opened is None or not state.opened.asks:
        return ()
    answered = {*state.told, *state.opened.intake}
    if state.told and state.told[-1] == CODES and state.opened.codes:
        answered.remove(CODES)  # nothing says that the last code was typed
    if state.told and state.told[-1] == OPERATOR_WORDS and state.opened.operator_words:
        answered.remove(OPERATOR_WORDS)  # none of the answers in them was looked at
    if state.told and OPERATOR_WORDS not in state.told:
        answered.add(OPERATOR_WORDS)  # a case of an older version, which did not ask
    if state.answers or state.readings or state.skipped or state.repairs:  # a layout stood in already
        answered.add(LAYOUT)
    return tuple(q for q in questions(knowledge, state) if q not in answered)


def questions(knowledge: Knowledge, state: State) -> tuple[str, ...]:
    """Every question of the intake after the complaint, in order; the layout only where no machine file was given."""
    generic = state.opened is not None and state.opened.machine is None
    return (OPERATOR_WORDS, CODES, *knowledge.intake, OCCURRENCES, HOURS, *((LAYOUT,) if generic else ()))


def titles(knowledge: Knowledge, state: State) -> dict[str, str]:
    """Every question of the intake with its title and its answer."""
    given = {q: _given(q, state) for q in (COMPLAINT, *questions(knowledge, state))}
    return {q: f"{told_title(knowledge, told)}: {told_says(knowledge, told)}" for q, told in given.items()}


def _given(question: str, state: State) -> Told:
    """The answer of the intake that stands now."""
    opened = state.opened
    if opened is None:
        return Told(question=question)
    numbers = {OCCURRENCES: opened.occurrences, HOURS: opened.hours}
    texts = {
        COMPLAINT: (opened.complaint,),
        CODES: opened.codes,
        OPERATOR_WORDS: (opened.operator_words,),
        LAYOUT: (opened.layout,),
    }
    words = texts.get(question, opened.intake.get(question, ()))
    return Told(question=question, number=numbers.get(question), words=tuple(w for w in words if w))


@dataclass
class IntakeTalk:
    """Asks what must be known at the start, and any of it again. Enter alone always means: not known."""

    room: Room
    titled: bool = False  # the complaint stands above already

    def run(self) -> Talk[None]:
        """Asks what is pending; each answer is stored before the next question. `back` asks the one before again."""
        opened = fold(self.room.case).opened
        assert opened is not None
        left = pending(self.room.knowledge, fold(self.room.case))
        if not left:
            return
        entry = self.room.knowledge.complaints[opened.complaint]
        if not self.titled:
            self.room.say(f"Complaint: {entry.title}", strong=True)
        self.room.say(f"First: {entry.first}", hang=2)
        by_machine = set(opened.intake) - set(fold(self.room.case).told)
        order = [q for q in questions(self.room.knowledge, fold(self.room.case)) if q not in by_machine]
        at = order.index(left[0])
        first_time = set(left)
        while at < len(order):
            if order[at] not in left:  # told before a pause
                at += 1
                continue
            try:
                yield from self.one(order[at], more=order[at] in first_time)
                left = tuple(q for q in left if q != order[at])
                if order[at] == OPERATOR_WORDS:  # they may have answered more
                    told = fold(self.room.case).told
                    left = tuple(q for q in left if q not in told or q == CODES)
                at += 1
            except InputError as error:  # it could not be saved
                self.room.refuse(error)
            except Back:
                if at == 0:
                    yield from self._before_the_first()
                else:
                    at -= 1
                    left = (*left, order[at])
                    first_time.discard(order[at])

    def _before_the_first(self) -> Talk[None]:
        """The complaint once more, for `back` at the first question after it."""
        try:
            yield from self.one(COMPLAINT)
        except Back:
            self.room.say("This is the first question. Type pause to save and leave.")

    def one(self, question: str, *, more: bool = False) -> Talk[None]:
        """Asks one question. `more`: further codes are added to those typed so far; else Enter alone keeps an earlier answer."""
        told = _given(question, fold(self.room.case))
        if not more and (told.words or told.number is not None):
            yield from keeping(self.room, self._asked(question, more=False), told_says(self.room.knowledge, told).rstrip("."), None)
        else:
            yield from self._asked(question, more=more)

    def _asked(self, question: str, *, more: bool) -> Talk[None]:
        opened = fold(self.room.case).opened
        if question == OPERATOR_WORDS:
            code = yield from WordsTalk(self.room).run(known=opened.operator_words if opened is not None and more else "")
            if code is not None:
                self.room.store(Told(question=CODES, words=(code,)))
                self.room.say(f"Taken as a fault code. {code_words(self.room.knowledge, parse_code(code))}", hang=2)
        elif question == CODES:
            yield from self._codes(opened.codes if opened is not None and more else ())
        elif question == COMPLAINT:
            name = yield from ask_complaint(self.room, first=False)
            self.room.store(Told(question=COMPLAINT, words=(name,)))
            self.room.say(f"First: {self.room.knowledge.complaints[name].first}", hang=2)
        elif question == LAYOUT:
            layout = yield from ask_layout(self.room)
            self.room.store(Told(question=LAYOUT, words=() if layout is None else (layout,)))
        elif question in _COUNTS:
            found, says = yield from self._count(question)
            self.room.store(Told(question=question, number=found))
            if found is not None:
                self.room.say(says)
        else:
            words = yield from self._conditions(self.room.knowledge.intake[question])
            self.room.store(Told(question=question, words=words))

    def _codes(self, known: tuple[str, ...]) -> Talk[None]:
        self.room.heading("Fault codes on the display")
        self.room.say(
            "Type them as shown, one a line: SPN 522990 FMI 10 OC 6, or 522990/10, or the four raw bytes B8 04 03 0A.", hang=2
        )
        self.room.say("Enter alone: no more codes.")
        if known:
            self.room.say(f"Typed so far: {'; '.join(known)}", hang=2)
        question = Question(
            kind="code", text="Which fault code is on the display?", prompt="code", optional=True, example="1208/3",
            why="A code names the circuit that the controller blames, and how it failed.",
        )  # fmt: skip
        found = known
        while True:
            code = yield from ask(self.room, question, _code)
            if code is None:
                break
            found = (*found, code[1])
            self.room.store(Told(question=CODES, words=found))
            self.room.say(code_words(self.room.knowledge, code[0]), hang=2)
        if not found:
            self.room.store(Told(question=CODES))

    def _conditions(self, entry: Intake) -> Talk[tuple[str, ...]]:
        pairs = tuple((r.id, r.says) for r in entry.results)
        self.room.heading(entry.title)
        self.room.say(entry.question + (" (several numbers are allowed)" if entry.many else ""))
        self.room.options(pairs)

        def parse(text: str) -> tuple[str, ...]:
            found = several(text, pairs) if entry.many and text else [pick(text, pairs)] if text else []
            taken_as(self.room, text, found, pairs)
            return intake_answers(self.room.knowledge, entry.id, found)

        question = Question(
            kind=f"intake:{entry.id}", text=entry.question, prompt=entry.id, choices=choices(pairs), several=entry.many,
            optional=True, example="1 2" if entry.many and len(pairs) > 1 else "1",
            why="It makes some causes likelier than others.",
        )  # fmt: skip
        return (yield from ask(self.room, question, parse))

    def _count(self, kind: str) -> Talk[tuple[float | None, str]]:
        """The number, and how it was understood."""
        text, units, example, why = _COUNTS[kind]
        self.room.say(text)
        question = Question(kind=kind, text=text, prompt=kind, optional=True, units=units, example=example, why=why)

        def parse(typed: str) -> tuple[float | None, str]:
            found = counted(kind, *number(typed)) if typed else None
            if found is None:
                return None, ""
            return found, hours_say(found, typed) if kind == HOURS else f"Taken as {found:g} time{'s' if found != 1 else ''}."

        return (yield from ask(self.room, question, parse))


def _code(text: str) -> tuple[TroubleCode, str] | None:
    """A code with the text it was read from; None where no more is typed. Raises InputError that says how to keep another kind."""
    if not text:
        return None
    try:
        return parse_code(text), text
    except InputError as error:
        if text.isdigit():
            what = f"after {short(text)} the second number is missing, which tells how it failed (FMI)"
            raise InputError(
                what, f"Type both, such as {short(text)}/10. For a code of another kind type: note {short(text)}"
            ) from None
        raise InputError(error.what, f"{error.hint} For a code of another kind type: note {short(text)}") from None


def code_words(knowledge: Knowledge, code: TroubleCode) -> str:
    """What the controller saw, in plain words."""
    mode = knowledge.fault_modes.get(code.fmi)
    says = mode.says if mode else "this failure mode is not in the knowledge"
    if code.ambiguous:
        return f"The bytes do not tell which parameter is meant (old packing). Failure mode {code.fmi}: {says}"
    times = f", {code.occurrences} times" if code.occurrences else ""
    return f"Parameter {code.spn}, failure mode {code.fmi}{times}: {says}"
