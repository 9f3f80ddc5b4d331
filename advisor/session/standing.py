"""How the machine stands, told and put right by the person beside it: somebody may have moved it since."""

from __future__ import annotations

from contextlib import suppress

from advisor.consultation.situation import Situation
from advisor.model.question import Question
from advisor.session.picking import pick
from advisor.session.room import Back, Room, Talk, ask, choices
from advisor.session.wording import says

DONE = "done"
YES_OR_NO = (("yes", "It still stands so"), ("no", "Something is different"))


def ask_stand(room: Room, s: Situation) -> Talk[dict[str, str]]:
    """The variables that are not as the case says, with their values now."""
    names = s.ground.names
    now = dict(zip(names, s.ground.value_names(s.stand), strict=True))
    room.heading("How the machine stands")
    for name in names:
        room.say(f"- {_says(s, name, now[name])}", indent=2, hang=2)
    if (yield from _chosen(room, "Does the machine still stand so? Go and look.", YES_OR_NO)) == "yes":
        return {}
    changed: dict[str, str] = {}
    while True:
        rows = tuple((n, _says(s, n, changed.get(n, now[n]))) for n in names)
        rows = (*rows, (DONE, "All is right now"))
        try:
            which = yield from _chosen(room, "What is different? Type done when all is right.", rows)
        except Back:
            if not changed:
                raise
            last = next(reversed(changed))
            del changed[last]
            room.say(f"Taken back. It stands again in the list: {_says(s, last, now[last])}.", hang=2)
            continue
        if which == DONE:
            return changed
        values = tuple((v, _says(s, which, v)) for v in s.ground.values[s.ground.index[which]])
        with suppress(Back):  # the list again
            value = yield from _chosen(room, "How does it stand now?", values)
            changed.pop(which, None)
            changed[which] = value


def _says(s: Situation, name: str, value: str) -> str:
    words = says(s.knowledge, name, value)
    return words[:1].upper() + words[1:]


def _chosen(room: Room, text: str, pairs: tuple[tuple[str, str], ...]) -> Talk[str]:
    """One of the choices; nothing typed is no answer here, for hands depend on it."""
    room.say(text, strong=True, hang=2)
    room.options(pairs)
    question = Question(
        kind="stands", text=text, prompt="stands", choices=choices(pairs), example="1",
        why="Safe steps depend on how the machine really stands.",
    )  # fmt: skip
    return (yield from ask(room, question, lambda typed: pick(typed, pairs)))
