"""One object between the consultation and any front end: gives the question, takes an answer or a word.

The intake asks before it reasons, so what reasons is imported when the intake is done.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from advisor.consultation.intake_told import machine_of
from advisor.errors import ExitCode, InputError
from advisor.model.case import Case, Noted, Opened, fold
from advisor.model.finding import Share
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.question import Ended, Question
from advisor.plain import one_line
from advisor.session.intake import IntakeTalk, ask_complaint, pending
from advisor.session.room import Back, Paused, Room, Talk, ask_waiting
from advisor.session.said import Said, plain
from advisor.session.words import enter_heard

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation
    from advisor.session.conversation import Conversation

Begin = Callable[[str], tuple[Opened, Callable[..., None]]]

MOST_LETTERS = 20_000  # of an answer; a file that was pasted by mistake keeps nobody waiting


class Session:
    """A conversation on one case. A front end reads `take()` and `question`, then calls `answer` or `pause`, until `over`.

    It prints nothing and reads nothing. Every event goes to `append` before anything is said of it.
    """

    def __init__(self, room: Room) -> None:
        self.room = room
        self.conversation: Conversation | None = None
        self.paused = False
        self.waiting: list[str] = []  # notes from a start that came to no case
        self.agreed: bool | None = None  # to what was asked last; None: nobody said
        self._talk: Talk[None] = self._going_on()
        self._question: Question | None = None
        self._begun = False

    @classmethod
    def fresh(
        cls, knowledge: Knowledge, begin: Begin, complaint: str | None = None, *, waiting: Sequence[str] = ()
    ) -> Session:  # fmt: skip
        """A case from its complaint on. `begin` opens it, and gives its first event and where further ones go.

        Notes that were `waiting` for a case are asked about once it is begun.
        """
        session = cls(Room(knowledge))
        session.waiting = list(waiting)
        session._talk = session._from_the_start(begin, complaint)
        return session

    @classmethod
    def going_on(
        cls, knowledge: Knowledge, case: Case, append: Callable[..., None], *, consultation: Consultation | None = None,
        resumed: bool = False, reopened: bool = False, blind: bool = False, machine: Machine | None = None,
    ) -> Session:  # fmt: skip
        """A case that was begun before, from where it stopped; on another `machine` where one is given."""
        session = cls(Room(knowledge, case, append))
        session._talk = session._going_on(consultation, resumed=resumed, reopened=reopened, blind=blind, given=machine)
        return session

    @classmethod
    def reopening(cls, knowledge: Knowledge, case: Case, append: Callable[..., None], consultation: Consultation) -> Session:
        """Only the question why a closed case is opened again."""
        session = cls(Room(knowledge, case, append))
        session._talk = session._opening_again(consultation)
        return session

    @classmethod
    def confirming(cls, knowledge: Knowledge, case: Case) -> Session:
        """Only the question whether an unproven case is closed all the same; `agreed` holds the answer."""
        session = cls(Room(knowledge, case))
        session._talk = session._sure()
        return session

    # ---- for the front end

    @property
    def question(self) -> Question | None:
        """What is asked now; None when nothing more is asked."""
        if not self._begun:
            self._begun = True
            self._advance(lambda: next(self._talk))
        return self._question

    @property
    def over(self) -> bool:
        return self.question is None

    def answer(self, text: str) -> None:
        """A number, the words of an answer, or one of the words. Raises ValueError when nothing is asked."""
        question, text = self.question, one_line(text).strip()
        if question is None:
            raise ValueError("nothing is asked")
        if len(text) > MOST_LETTERS and question.kind != "note" and text[:4].lower() != "note":
            self.refused(f"{len(text)} letters are too long for an answer", "Type a shorter one. A long text is kept by: note TEXT")
            return
        self._advance(lambda: self._talk.send(text))

    def pause(self) -> None:
        """Leaves the case as it is."""
        if self.question is not None:
            self._advance(lambda: self._talk.throw(Paused()))
        self.paused, self._question = not self.closed, None

    def take(self) -> list[Said]:
        """What was said since the last call."""
        _ = self.question  # the first question has something said before it
        said, self.room.said[:] = list(self.room.said), []
        return said

    def asked(self) -> Question | None:
        """The question with what was said since the one before, for a front end that wants all of it as data."""
        question = self.question
        said = tuple(text for item in self.take() for text in plain(item))
        return None if question is None else question.model_copy(update={"said": said})

    def ended(self, case_id: str | None = None) -> Ended:
        """The last thing that a front end gets."""
        said = tuple(text for item in self.take() for text in plain(item))
        return Ended(case=case_id, closed=self.closed, said=said)

    # ---- how it stands

    @property
    def code(self) -> ExitCode:
        """The exit code of a session that is over: 5 when it paused before a cause was found."""
        done = not self.paused or (self.conversation is not None and self.conversation.has_result)
        return ExitCode.OK if done else ExitCode.PAUSED

    @property
    def closed(self) -> bool:
        return fold(self.room.case).closed is not None

    @property
    def unsaved(self) -> tuple[str, ...]:
        """Notes that were typed before there was a case to keep them."""
        return () if self.room.begun else tuple(e.text for e in self.room.case.events if isinstance(e, Noted))

    @property
    def last_ranking(self) -> tuple[Share, ...]:
        """The ranking said last; empty before the first."""
        return self.conversation.last_ranking if self.conversation else ()

    def refused(self, what: str, hint: str) -> None:
        """Says that a reply could not be read; the question stays."""
        self.room.refuse(InputError(what, hint))

    # ---- inside

    def _advance(self, step: Callable[[], Question]) -> None:
        try:
            self._question = step()
        except StopIteration:
            self._question = None
        except (Paused, Back):
            self.paused, self._question = True, None

    def _from_the_start(self, begin: Begin, complaint: str | None) -> Talk[None]:
        name = complaint or (yield from ask_complaint(self.room))
        opened, self.room.append = begin(name)
        early, self.room.case = self.room.case.events, Case((opened,))
        if early:  # noted before there was a case
            self.room.store(*early)
        yield from ask_waiting(self.room, self.waiting)
        yield from self._going_on()

    def _opening_again(self, consultation: Consultation) -> Talk[None]:
        from advisor.session.closing import ask_reopening

        reopened = yield from ask_reopening(self.room, consultation, self.room.case)
        if reopened is not None:
            self.room.store(reopened)

    def _sure(self) -> Talk[None]:
        from advisor.session.closing import ask_sure

        try:
            self.agreed = yield from ask_sure(self.room)
        except Back:
            self.agreed = False

    def _going_on(
        self,
        consultation: Consultation | None = None,
        *,
        resumed: bool = False,
        reopened: bool = False,
        blind: bool = False,
        given: Machine | None = None,
    ) -> Talk[None]:
        begun = not pending(self.room.knowledge, fold(self.room.case))  # within the intake nobody was told to move anything
        yield from IntakeTalk(self.room, titled=resumed).run()
        from advisor.consultation.consultation import Consultation
        from advisor.consultation.this_machine import for_machine
        from advisor.session.commands import COMMANDS
        from advisor.session.conversation import Conversation
        from advisor.session.exchanging import to_machine

        if consultation is None:
            opened = fold(self.room.case).opened
            assert opened is not None
            machine = machine_of(opened)
            consultation = Consultation(for_machine(self.room.knowledge, machine), machine)
        enter_heard(self.room, consultation.machine)
        first = None if given is None else lambda c, rest, step: to_machine(c, given)
        self.conversation = Conversation(
            self.room, consultation, COMMANDS, resumed=resumed and begun, reopened=reopened, blind=blind, first=first
        )
        yield from self.conversation.run()
