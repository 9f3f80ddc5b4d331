"""The operator's own words: typed once, and every fact found in them confirmed or struck."""

from __future__ import annotations

from dataclasses import dataclass, field

from advisor.consultation.heard import heard_answers, open_questions, told_by
from advisor.consultation.intake_told import machine_of
from advisor.errors import InputError, short
from advisor.model.case import COMPLAINT, OPERATOR_WORDS, Told, fold
from advisor.model.knowledge import Check, Intake
from advisor.model.machine import Machine
from advisor.model.question import Question
from advisor.model.trouble_code import parse_code
from advisor.session.hearing import MOST_LETTERS, Ear, Heard
from advisor.session.room import YES_OR_NO, Back, Room, Talk, ask, keeping

_YES, _NO = ("y", "yes", "1", "right", "true"), ("n", "no", "2", "wrong", "false")


@dataclass
class WordsTalk:
    """Asks for the words, then for each fact in them. Nothing is taken in silence."""

    room: Room
    taken: dict[str, tuple[str, ...]] = field(default_factory=dict)  # answers confirmed, by question

    def run(self, *, known: str = "") -> Talk[str | None]:
        """The words, or `known` where they were typed before, and their facts. Gives a fault code typed instead of words."""
        before = ""
        while True:
            text = known
            if not text:
                typed = self._typed()
                text = yield from (keeping(self.room, typed, before.rstrip("."), before) if before else typed)
                if text and _is_code(text):
                    return text
                self.room.store(Told(question=OPERATOR_WORDS, words=(text,) if text else ()))
            try:
                if text:
                    yield from self._facts(text)
                return None
            except Back:
                known, before = "", text  # back from the first fact: the words again

    def _typed(self) -> Talk[str]:
        self.room.heading("In the operator's own words")
        self.room.say("What did the operator say? Type one to five sentences as you heard them.", hang=2)
        self.room.say("Enter alone: nothing to type.")
        question = Question(
            kind="operator-words", text="What did the operator say?", prompt="words", optional=True, free=True,
            example="It jumps when I steer full left, worse on cold mornings.",
            why="The words go into the record. The program finds answers in them and asks you about each.",
        )  # fmt: skip
        return (yield from ask(self.room, question, _words))

    def _facts(self, text: str) -> Talk[None]:
        """Every fact in turn. Raises Back before the first."""
        facts = self._found(text)
        if not facts:
            self.room.say("No answer was found in these words. They stand in the record.", hang=2)
            return
        self.room.say(f"{len(facts)} {'answers' if len(facts) > 1 else 'answer'} found in these words.")
        self.room.say("Type y when it is right, n to take it out.")
        at = 0
        asked: list[int] = []
        while at < len(facts):
            fact, entry = facts[at]
            if not self._open(fact, entry):
                at += 1
                continue
            try:
                right = yield from self._one(fact, entry, f"{at + 1} of {len(facts)}")
            except Back:
                if not asked:
                    raise
                at = asked.pop()
                continue
            asked.append(at)
            self._keep(fact, entry, right=right)
            at += 1
        count = sum(map(len, self.taken.values()))
        self.room.say(f"{count} taken. You can change them later: correct.")

    def _found(self, text: str) -> list[tuple[Heard, Intake | Check | None]]:
        """The facts that are news, each with its question; another complaint comes last."""
        state = fold(self.room.case)
        assert state.opened is not None
        asked = open_questions(self.room.knowledge, machine_of(state.opened), state)
        heard = Ear(self.room.knowledge).hear(text)
        complaints = [f for f in heard if f.question == COMPLAINT]
        found: list[tuple[Heard, Intake | Check | None]] = []
        if complaints and all(f.answer != state.opened.complaint for f in complaints):
            found.append((complaints[0], None))
        return [(f, asked[f.question]) for f in heard if f.question in asked] + found

    def _open(self, fact: Heard, entry: Intake | Check | None) -> bool:
        """Whether a fact is still to be asked: a question that takes one answer has none yet, but this one."""
        given = self.taken.get(fact.question, ())
        return entry is None or entry.many or not given or given == (fact.answer,)

    def _one(self, fact: Heard, entry: Intake | Check | None, where: str) -> Talk[bool]:
        """Whether one fact is right."""
        if entry is None:
            says = f"Complaint, instead of the one chosen: {self.room.knowledge.complaints[fact.answer].title}"
        else:
            says = f"{entry.title}: {next(r.says for r in entry.results if r.id == fact.answer)}"
        self.room.say(f'{where}: "{fact.words}"', hang=2)
        self.room.say(says, strong=True, indent=2, hang=2)
        question = Question(
            kind=f"heard:{fact.question}:{fact.answer}", text=f'"{fact.words}" - {says}. Is that right?', prompt="y or n",
            choices=YES_OR_NO, example="y", why="The program can read words wrongly. Only you know what was meant.",
        )  # fmt: skip
        return (yield from ask(self.room, question, _yes))

    def _keep(self, fact: Heard, entry: Intake | Check | None, *, right: bool) -> None:
        """Stores what changed; a fact that was struck and never taken changes nothing."""
        before = self.taken.get(fact.question, ())
        others = tuple(a for a in before if a != fact.answer)
        now = (*others, fact.answer) if right else others
        if now == before:
            return
        self.room.store(Told(question=COMPLAINT, words=now) if entry is None else told_by(self.room.knowledge, fact.question, now))
        self.taken[fact.question] = now
        if entry is None and now:
            self.room.say(f"First: {self.room.knowledge.complaints[fact.answer].first}", hang=2)


def enter_heard(room: Room, machine: Machine) -> None:
    """Writes the answers that were confirmed in the words into the case, where they are not in it yet."""
    try:
        found = heard_answers(room.knowledge, machine, fold(room.case))
        if found:
            room.store(*found)
    except InputError as error:  # it could not be saved
        room.refuse(error)


def _yes(text: str) -> bool:
    word = text.lower().rstrip(".!")
    if word in _YES or word in _NO:
        return word in _YES
    what = f"'{short(text)}' is neither y nor n" if text else "nothing was typed"
    raise InputError(what, "Type y when it is right, n to take it out.")


def _words(text: str) -> str:
    if text.lower().rstrip(".!") in (*_YES, *_NO) and not text.isdigit():
        raise InputError(f"'{text}' says nothing of the fault", "Type what the operator said, or Enter alone.")
    if text and not any(c.isalpha() for c in text) and not _is_code(text):
        raise InputError(f"'{short(text)}' holds no words", "Type what the operator said, or Enter alone.")
    if len(text) > MOST_LETTERS:
        raise InputError(f"{len(text)} letters are more than fit the record", f"Type {MOST_LETTERS} letters at most.")
    return text


def _is_code(text: str) -> bool:
    """Whether a fault code was typed where words are asked."""
    try:
        parse_code(text)
    except InputError:
        return False
    return True
