"""How the machine stands, shown and put right by the person beside it: somebody may have moved it since."""

from __future__ import annotations

from advisor.consultation.situation import Situation
from advisor.errors import InputError
from advisor.terminal import views
from advisor.terminal.environment import EndOfInput, Terminal
from advisor.terminal.intake import tell
from advisor.terminal.questions import Answerer, Prompt, pick

PAUSE, DONE = "pause", "done"
YES_OR_NO = (("yes", "It still stands so"), ("no", "Something is different"))


def ask_stand(terminal: Terminal, answerer: Answerer, s: Situation) -> dict[str, str]:
    """The variables that are not as the case says, with their values now. Raises EndOfInput when the person pauses."""
    names = s.ground.names
    now = dict(zip(names, s.ground.value_names(s.stand), strict=True))
    terminal.rule("How the machine stands")
    for name in names:
        terminal.line(f"- {_says(s, name, now[name])}", indent=2, hang=2)
    if _chosen(terminal, answerer, "Does the machine still stand so? Go and look.", YES_OR_NO) == "yes":
        return {}
    changed: dict[str, str] = {}
    while True:
        rows = tuple((n, _says(s, n, changed.get(n, now[n]))) for n in names)
        rows = (*rows, (DONE, "All is right now"))
        which = _chosen(terminal, answerer, "What is different? Type done when all is right.", rows)
        if which == DONE:
            return changed
        choices = tuple((v, _says(s, which, v)) for v in s.ground.values[s.ground.index[which]])
        changed[which] = _chosen(terminal, answerer, "How does it stand now?", choices)


def _says(s: Situation, name: str, value: str) -> str:
    words = views.says(s.knowledge, name, value)
    return words[:1].upper() + words[1:]


def _chosen(terminal: Terminal, answerer: Answerer, question: str, choices: tuple[tuple[str, str], ...]) -> str:
    """One of the choices; nothing typed is no answer here, for hands depend on it."""
    while True:
        terminal.line(question, "bold", hang=2)
        views.options(terminal, choices)
        text = answerer.answer(Prompt("stands", "stands", choices))
        if text.lower() == PAUSE:
            raise EndOfInput
        try:
            return pick(text, choices)
        except InputError as error:
            tell(terminal, error)
