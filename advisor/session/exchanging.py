"""Another machine file, or another generic layout, for a case that was begun: what no longer fits is told first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.consultation.again import machine_differs
from advisor.consultation.exchange import Exchange, exchange, lacking
from advisor.consultation.intake_words import told_says, told_title
from advisor.errors import InputError
from advisor.model.case import LAYOUT, Event, MachineChanged, Told, fold
from advisor.model.finding import Step
from advisor.model.machine import Machine
from advisor.model.question import Question
from advisor.session.describe import describe, says_of_answer
from advisor.session.laying_out import ask_layout
from advisor.session.picking import pick
from advisor.session.room import YES_OR_NO, Back, Talk, ask

if TYPE_CHECKING:
    from advisor.session.conversation import Conversation


def layout_word(c: Conversation, rest: str, step: Step) -> Talk[None]:
    """Another generic layout in place of the one that stands in."""
    if not c.consultation.machine.generic:
        raise InputError("this case has a machine file of its own", "Type machine FILE for another one.")
    layout = yield from ask_layout(c.room)
    change = Told(question=LAYOUT, words=() if layout is None else (layout,))
    yield from _exchanged(c, exchange(c.room.knowledge, c.room.case, change))


def machine_word(c: Conversation, rest: str, step: Step) -> Talk[None]:
    """`machine FILE`: the machine file, given or changed in the middle of a case; without a name it is asked."""
    if not rest:
        question = Question(
            kind="machine", text="Which machine file?", prompt="machine file", free=True, optional=True,
            example="dumper.yaml", why="It names the plugs, splices and wires of this machine, and its voltages.",
        )  # fmt: skip
        c.room.say(question.text + " Enter alone: none.", strong=True)
        rest = yield from ask(c.room, question, str)
    if not rest:
        raise Back
    try:
        machine = c.room.read_machine(rest)
    except InputError as error:
        for problem in error.problems[:3]:
            c.room.say(str(problem), hang=2)
        raise InputError(error.what, error.hint or "Correct the file, or type another name.") from None
    yield from to_machine(c, machine)


def to_machine(c: Conversation, machine: Machine) -> Talk[None]:
    """Goes on with a machine; nothing happens where it is the one of the case."""
    own = c.consultation.machine
    parts = machine_differs(own, machine)
    if not parts:
        c.room.say("It is the machine of this case. Nothing was changed.", hang=2)
        return
    if not own.generic:
        c.room.say(f"The machine file is not the one of this case. It differs in: {'; '.join(parts)}.", strong=True, hang=2)
    whole = machine.model_dump(mode="json", by_alias=True, exclude_none=True)
    found = exchange(c.room.knowledge, c.room.case, MachineChanged(machine=whole))
    yield from _exchanged(c, found)
    c.room.say(f"Machine: {machine.title}.", hang=2)
    for told in found.told:
        c.room.say(f"The file says: {told_title(c.room.knowledge, told)}: {told_says(c.room.knowledge, told)}", hang=2)


def _exchanged(c: Conversation, found: Exchange) -> Talk[None]:
    """Names what no longer fits, asks whether to go on with it, and does. Raises Back when the machine stays."""
    for event in found.gone:
        c.room.say(f"No longer fits: {describe(c.consultation, event)}. {_why(found.machine, event)}", hang=2)
    for before, now in found.anew:
        check = c.consultation.knowledge.checks[now.check]
        old, new = says_of_answer(check, before), says_of_answer(check, now)
        c.room.say(f"Judged anew: {check.title}, {now.read}. It was: {old}. By the new limits: {new}.", hang=2)
    if found.gone:
        count = len(found.gone)
        c.room.say(f"{count} answer{'s' if count > 1 else ''} will be taken back. The record keeps what was said.", hang=2)
        yield from _sure(c)
    c.exchange(found.machine, *found.events)
    if any(name not in c.situation.ground.names for name in fold(c.room.case).stand):
        c.room.say("Plugs have other names now. Say which of them are open.", strong=True, hang=2)
        try:
            yield from c.stands()
        except Back:
            c.room.say("How the machine stands was not changed. Type stands to say it.", hang=2)


def _why(machine: Machine, event: Event) -> str:
    names = lacking(machine, event)
    return f"The new layout has no {' and no '.join(names)}." if names else "It depends on an answer that does not fit."


def _sure(c: Conversation) -> Talk[None]:
    question = Question(
        kind="exchange", text="Go on with the new layout?", prompt="yes or no", choices=YES_OR_NO, example="yes",
        why="The program can only weigh answers about places that the layout has.",
    )  # fmt: skip
    c.room.say(question.text, strong=True)
    c.room.options(question.pairs)
    if (yield from ask(c.room, question, lambda text: pick(text, question.pairs))) == "no":
        raise Back
