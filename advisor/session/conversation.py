"""The steps of a case: presents the next one, takes an answer or a word, stores the event, says what it meant."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import Any

from advisor.consultation import answers
from advisor.consultation.consultation import Consultation
from advisor.consultation.reading_words import meaning
from advisor.consultation.retest_words import warmth_counts
from advisor.consultation.safety import cautions_of
from advisor.consultation.scenario import to_event
from advisor.consultation.situation import Situation
from advisor.consultation.steps import moved, tools_of, work_of
from advisor.consultation.this_machine import for_machine
from advisor.errors import InputError
from advisor.model.case import (
    NORMAL,
    Answered,
    Corrected,
    Event,
    Moved,
    Noted,
    Overridden,
    Ran,
    Reading,
    Repaired,
    Retested,
    fold,
)
from advisor.model.finding import Assessment, Share, Step
from advisor.model.knowledge import Check
from advisor.model.machine import Machine
from advisor.model.place_words import by_plug, place_says
from advisor.model.question import Question
from advisor.model.scenario import Line
from advisor.session import typed
from advisor.session.after_repair import ask_warmth
from advisor.session.asking import CHOICE, step_question
from advisor.session.describe import says_of_answer
from advisor.session.picking import pick
from advisor.session.repairing import ask_repair, begun_before
from advisor.session.room import NEAR_WORD, NOT_KNOWN, OFTEN, Back, Paused, Room, Talk, ask, choices, names_one
from advisor.session.running import came_back, ran
from advisor.session.said import AskedAgain, Meant, News, Presented, RankingShown
from advisor.session.spot_talk import ask_which, located
from advisor.session.standing import ask_stand
from advisor.session.words import enter_heard

KEPT = 5  # steps done after which a caution is told in full again; a judgement, no source
MOVES_KEPT = 15  # the same of a move: what hands have done is kept longer than what eyes have read; a judgement, no source
ANSWERS = (Answered, Reading, Retested, Corrected)  # events that tell something of the causes
DOINGS = (Answered, Reading, Retested, Repaired, Ran)  # events of a step that was done
Command = Callable[["Conversation", str, Step], Talk[None]]  # what was typed after the word, and the step
OWED = ("retest", "run", "done")  # steps that follow from a repair, and are nobody's choice


@dataclass
class Conversation:
    """The steps of one case, from its intake to its end."""

    room: Room
    consultation: Consultation
    commands: Mapping[str, Command]  # the words at a step
    resumed: bool = False  # somebody may have moved the machine since
    reopened: bool = False  # it was closed, and the fault may have come back
    first: Command | None = None  # what is done before the first step
    blind: bool = False  # the technician chooses every step before the program says what it would do
    chosen: Step | None = None
    returned: Step | None = None  # the step that back went back to
    familiar: bool = False  # the work of the step presented was told in one of the last few steps
    _warned: set[str] = field(default_factory=set)
    _told: dict[str, int] = field(default_factory=dict)  # cautions and moves, and how many steps were done when told last
    _done: int = 0  # steps; one that is only looked at takes no time in which a caution is forgotten
    _refused: int = 0  # in a row
    _last: set[str] = field(default_factory=set)  # cautions and moves of the step before
    _cautions: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())  # of the step presented: new, and standing
    _before: tuple[frozenset[str], frozenset[tuple[str, str]]] = (frozenset(), frozenset())  # tools and stand of the step before
    _situation: Situation | None = None
    _assessment: Assessment | None = None

    def run(self) -> Talk[None]:
        """Until the case is closed. Raises Paused."""
        self.reassess()
        self.room.heading("Likely causes")
        self.room.said.append(RankingShown(self.assessment.ranking, machine=self.consultation.machine))
        self._news_at_first()
        if self.first is not None:
            try:
                yield from self.first(self, "", self.next)
            except Back:
                self.room.say("The case keeps its own machine.")
            except InputError as error:  # it could not be saved
                self.room.refuse(error)
        if self.resumed and fold(self.room.case).closed is None:
            try:
                yield from self.stands()
            except Back:
                self.room.say("How the machine stands was not changed.")
            except InputError as error:  # it could not be saved
                self.room.refuse(error)
        if self.reopened:
            try:
                yield from came_back(self)
            except Back:
                self.room.say("When the fault came back: type run HOURS, and then how often.", hang=2)
        presented: Step | None = None
        while fold(self.room.case).closed is None:
            if self.choosing:
                yield from self._take(self.next, CHOICE, choose_step)
                continue
            step = self.chosen or self.next
            if step == presented:
                self.room.said.append(AskedAgain(self.situation, step, whole=self._refused > 0 and self._refused % OFTEN == 0))
            else:
                self._present(step)
            presented = step
            yield from self._take(step, self.question(step), Conversation._answer)
        self.room.say("The case is closed.", strong=True)

    def _news_at_first(self) -> None:
        """What was found and advised so far. Who goes on with a case read the advice before: `show` tells it again."""
        nothing = Assessment((), (), ())
        told_before = self.resumed and bool(self.assessment.advice)
        self.room.said.append(News(replace(nothing, advice=self.assessment.advice) if told_before else nothing, self.assessment))
        if told_before:
            self.room.say(f"Advice so far: {len(self.assessment.advice)}. The word show tells it.", hang=2)

    # ---- what is known

    @property
    def assessment(self) -> Assessment:
        assert self._assessment is not None
        return self._assessment

    @property
    def situation(self) -> Situation:
        assert self._situation is not None
        return self._situation

    @property
    def last_ranking(self) -> tuple[Share, ...]:
        """The ranking shown last; empty before the first."""
        return self._assessment.ranking if self._assessment else ()

    @property
    def next(self) -> Step:
        assert self.assessment.next is not None
        return self.assessment.next

    @property
    def choosing(self) -> bool:
        """Whether the technician is to choose a step before anything is advised."""
        return self.blind and self.chosen is None and self.next.kind not in OWED

    @property
    def has_result(self) -> bool:
        """Whether the case has come to a cause: repaired, or the repair is what comes next."""
        return self._assessment is not None and (bool(fold(self.room.case).repairs) or self.next.kind in ("repair", "run"))

    def reassess(self) -> None:
        self._situation = self.consultation.situation(self.room.case)
        self._assessment = self.consultation.assessed(self._situation)

    # ---- a step

    def _present(self, step: Step) -> None:
        """A step. A caution or a move that was told in one of the last few steps is named; it is told in full again later."""
        work = None if step.kind in ("run", "done") else work_of(self.situation, step)
        own = cautions_of(self.consultation.knowledge, self.consultation.machine, step, work)
        extra = [c for c in self.assessment.cautions if c not in self._warned]
        ids = tuple(dict.fromkeys([*extra, *own]))
        moves = tuple(dict.fromkeys(m.move for leg in step.legs for m in leg.moves))
        tools, doing = {f"tool:{t}" for t in tools_of(self.consultation.knowledge, step)}, f"work:{step.id}"
        known = {name for name in ids if self._done - self._told.get(name, -KEPT) < KEPT}
        known |= {name for name in (*moves, *tools) if self._done - self._told.get(name, -MOVES_KEPT) < MOVES_KEPT}
        safe = work is not None and not any(part.hurts for part in work.sequence)
        self.familiar = safe and self._done - self._told.get(doing, -KEPT) < KEPT
        self._cautions = tuple(c for c in ids if c not in known), tuple(c for c in ids if c in known)
        named = frozenset(name.removeprefix("tool:") for name in tools & known)
        told = frozenset(moves) & known
        self.room.said.append(Presented(self.situation, step, *self._cautions, told, *self._before, named, self.familiar))
        self._before = frozenset(tools_of(self.consultation.knowledge, step)), frozenset(step.legs[0].stand if step.legs else ())
        self._warned.update(extra)
        # What is only named keeps the time of its full telling, unless it stands in every step since.
        fresh = {name for name in (*ids, *moves, *tools) if name not in known or name in self._last}
        self._told.update(dict.fromkeys([*fresh, *([] if self.familiar else [doing])], self._done))
        self._last = {*ids, *moves, *tools}

    @property
    def in_force(self) -> tuple[str, ...]:
        """The cautions of the step presented, new and standing."""
        return (*self._cautions[0], *self._cautions[1])

    def question(self, step: Step) -> Question:
        """The question of a step with everything that a front end needs to show it."""
        return step_question(self.situation, self.assessment, step, *self._cautions)

    def _take(self, step: Step, asked: Question, answer: Command) -> Talk[None]:
        """One line of input; `answer` takes what is no word. Raises Paused."""
        text = yield asked
        word, _, rest = text.partition(" ")
        command = self.commands.get(word.lower())
        try:
            if not text:
                raise InputError("nothing was typed", "Type a number or a word; help lists the words.")
            if word.lower() == "pause":
                raise Paused
            elif command is not None:
                yield from command(self, rest.strip(), step)
            else:
                yield from answer(self, text, step)
            self._refused = 0
        except Back:
            self.room.say("Back at the step. Nothing was changed.")
        except InputError as error:
            self._refused += 1
            self.room.refuse(error)
            meant = [] if command else get_close_matches(word.lower(), [*self.commands, "pause"], n=1, cutoff=NEAR_WORD)
            if meant:
                self.room.say(f"The word {meant[0]} is known here, if you mean it.", hang=2)
            elif command is None and asked.example not in error.hint and not names_one(error.hint):
                self.room.say(f"Here you could type: {asked.example}", hang=2)
            if self._refused % OFTEN == 0 and "help" not in error.hint:
                self.room.say("help lists the words.")

    def line(self, **values: Any) -> None:
        """Stores the event of one line of answers, made the same way as that of a scenario's line."""
        self.store(self.event(**values))

    def event(self, **values: Any) -> Event:
        line = Line.model_validate({k: v for k, v in values.items() if v is not None})
        return to_event(self.consultation.knowledge, self.consultation.machine, self.room.case, line)

    def store(self, *events: Event) -> None:
        """Stores events and says what they changed."""
        before = self.assessment
        self.room.store(*events)
        self._done += any(isinstance(e, DOINGS) for e in events)
        self.chosen = None
        self.reassess()
        told = [e for e in events if not isinstance(e, Moved)]
        told = [e for e in told if not isinstance(e, Noted)] or told
        for text in meaning(self.consultation, fold(self.room.case), told[-1]) if told else ():
            self.room.say(text)
        if any(isinstance(e, ANSWERS) for e in events):
            self.room.said.append(Meant(tuple(b for b in self.assessment.because if b not in before.because)))
        self.room.said.append(News(before, self.assessment))
        self.room.heading("Likely causes")
        self.room.said.append(RankingShown(self.assessment.ranking, before.ranking, self.consultation.machine))

    def told(self) -> None:
        """Says what an answer of the intake that was given anew has changed."""
        before = self.assessment
        enter_heard(self.room, self.consultation.machine)
        self.reassess()
        self.room.said.append(News(before, self.assessment))
        self.room.heading("Likely causes")
        self.room.said.append(RankingShown(self.assessment.ranking, before.ranking, self.consultation.machine))

    def exchange(self, machine: Machine, *events: Event) -> None:
        """Goes on with another machine or generic layout; everything is weighed anew on it."""
        self.room.store(*events)
        self.consultation = Consultation(for_machine(self.room.knowledge, machine), machine)
        self.chosen = self.returned = None
        self.told()

    # ---- an answer to the step itself

    def _answer(self, text: str, step: Step) -> Talk[None]:
        if step.kind == "repair":
            return (yield from self._repaired(text, step))
        if step.kind == "run":
            return (yield from ran(self, text, step))
        check = self.consultation.knowledge.checks.get(step.id)
        if text.lower() in NOT_KNOWN and not (check and any(text.lower() == r.says.lower() for r in check.results)):
            raise InputError(f"'{text}' is no answer to a step", "Type skip when nobody can tell, or the answer that fits best.")
        if step.places and check is not None:
            return (yield from self._together(text, step, check))
        if step.kind in ("check", "retest") and step.circuit is None and check is not None:
            values = typed.result(check, text, step, self.room.knowledge.words.result_words)
        elif step.kind in ("reading", "retest"):
            values = typed.load_test(text, step, self.room.meter)
            if self.room.meter and values["meter"] == self.room.meter:
                self.room.say(f"Read with your meter, {self.room.meter}. For another, add meter= after the volts.", hang=2)
        else:
            raise InputError(f"'{text}' is no word known here", "Type help for the list of words.")
        event = self.event(**values)
        self.say_understood(check, text, event)
        event = yield from located(self.room, self.consultation, event)
        if isinstance(event, Retested) and warmth_counts(self.consultation.knowledge, fold(self.room.case), event.by):
            event = event.model_copy(update={"like": (yield from ask_warmth(self.room))})
        before, after = moved(step)
        self.store(*(self._overrides(step) if step.kind != "retest" else ()), *before, event, *after)

    def say_understood(self, check: Check | None, text: str, event: Event) -> None:
        """Says which result was understood by words."""
        if check is not None and not text.isdigit() and isinstance(event, Answered) and not event.read:
            self.room.say(f"Taken as: {says_of_answer(check, event)}.", hang=2)

    def _together(self, text: str, step: Step, check: Check) -> Talk[None]:
        """One answer for several places of an open plug: where it is not normal, at which of them is asked."""
        result = typed.outcome(check, text, self.room.knowledge.words.result_words)["result"]
        normal = answers.normal_result(check)
        there = step.places
        if result not in (normal, NORMAL):
            there = yield from ask_which(self.room, self.consultation.machine, step.places)
        found = [self.event(check=step.id, place=p, result=result if p in there else normal) for p in step.places]
        before, after = moved(step)
        self.store(*self._overrides(step), *before, *found, *after)

    def _overrides(self, step: Step) -> list[Event]:
        """A step done although a rule says to wait is written down as such."""
        held = self.situation.held(self.consultation.knowledge.checks[step.id])
        return [Overridden(check=step.id, hold=hold.until) for hold in held]

    def stands(self) -> Talk[None]:
        """Shows how the machine stands, and writes down what is different by now."""
        changed = yield from ask_stand(self.room, self.situation)
        if changed:
            self.room.store(Moved(to=changed, found=True))
            self.reassess()

    def place(self, spots: tuple[str, ...], optional: bool) -> Talk[str | None]:
        """One of the places by number or name; None when it need not be known and is not."""
        machine = self.consultation.machine
        pairs = tuple((p, place_says(machine, p)) for p in by_plug(machine, spots))
        self.room.say("At which place?" + (" (Enter alone: not known)" if optional else ""), strong=True)
        self.room.options(pairs)
        question = Question.model_validate(
            {
                "kind": "place", "text": "At which place?", "prompt": "place", "optional": optional, "example": "1",
                "choices": choices(pairs), "why": "The same check tells of one place only.",
            }
        )  # fmt: skip
        return (yield from ask(self.room, question, lambda text: None if optional and not text else pick(text, pairs)))

    def _repaired(self, text: str, step: Step) -> Talk[None]:
        if text.lower() not in ("done", "yes", "y"):
            raise InputError(f"'{text}' is no answer to a repair", "Type done, or another word; help lists them.")
        entry = self.consultation.knowledge.causes[step.id].repair
        told = yield from ask_repair(self.room, step.title, entry, begun_before(self.room.case, step.id, step.place))
        early = not self.situation.proofs_seen(step.id, step.place)
        event = self.event(repair=step.id, place=step.place, minutes=told["minutes"])
        assert isinstance(event, Repaired)
        if early:
            self.room.say("The record will say that it was repaired before it was proven.", hang=2)
        before, after = moved(step)
        self.store(*before, event.model_copy(update={**told, "minutes": event.minutes, "early": early}), *after)


def choose_step(c: Conversation, text: str, step: Step) -> Talk[None]:
    """A step that the technician names, or by `go` the one that the program would do."""
    if text.lower() == "go":
        c.chosen = step
    else:
        yield from c.commands["other"](c, text, step)
