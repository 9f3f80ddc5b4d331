"""Is it written so that a tired technician understands it at one look?"""

from __future__ import annotations

import re
from collections.abc import Iterator

from advisor.library.lints.lint import Issue, Lint
from advisor.library.lints.readability import grade, sentences, words
from advisor.model.knowledge import Knowledge, Work

LONGEST_QUESTION = 90  # characters: a little over two lines of a 40-column screen
HIGHEST_AVERAGE = 16.0  # words of a sentence, over an entry
LONGEST_STEP = 220  # characters: five and a half lines of a 40-column screen
LONGEST_SENTENCE = 30  # words
HIGHEST_GRADE = 10.0  # school year that a question, or an entry as a whole, asks for
_SECOND_QUESTION = re.compile(
    r"\b(and|or|then)\s+(if so\b|what|which|where|when|who|why|how|is|are|was|were|does|do|did|has|have|can|will)\b", re.IGNORECASE
)


def questions(k: Knowledge) -> Iterator[tuple[str, str]]:
    """Every question with the id of its entry."""
    yield from ((c.id, c.question) for c in k.checks.values())
    yield from ((i.id, i.question) for i in k.intake.values())


def questions_that_are_none(k: Knowledge) -> Iterator[Issue]:
    """A question asks one thing; its length is held to 120 characters by the model."""
    for name, asked in questions(k):
        if asked.count("?") != 1 or not asked.endswith("?") or _SECOND_QUESTION.search(asked):
            yield Issue("question", f"the question of '{name}' must ask one thing and end with a question mark")


def questions_too_long(k: Knowledge) -> Iterator[Issue]:
    """A question is taken in at one look."""
    for name, asked in questions(k):
        if len(asked) > LONGEST_QUESTION:
            yield Issue("long-question", f"the question of '{name}' has {len(asked)} characters; {LONGEST_QUESTION} is the most")


def sentences_long_on_average(k: Knowledge) -> Iterator[Issue]:
    """The sentences of an entry have sixteen words on average at the most."""
    for name, said in texts(k):
        counted = [len(words(sentence)) for text in said for sentence in sentences(text)]
        average = sum(counted) / len(counted) if counted else 0.0
        if average > HIGHEST_AVERAGE:
            most = f"{HIGHEST_AVERAGE:g} is the most"
            yield Issue("long-sentences", f"the sentences of '{name}' have {average:.1f} words on average; {most}")


def steps_too_long(k: Knowledge) -> Iterator[Issue]:
    """A step must be taken in at one look on a narrow screen."""
    work: list[tuple[str, Work]] = [(c.id, c) for c in k.checks.values()] + [(c.id, c.repair) for c in k.causes.values()]
    parts = [(name, part.steps) for name, w in work for part in w.sequence]
    for name, steps in (*parts, *((m.id, m.steps) for m in k.moves.values())):
        for step in steps:
            if len(step) > LONGEST_STEP:
                yield Issue(
                    "long-step",
                    f"a step of '{name}' has {len(step)} characters; {LONGEST_STEP} is the most: {step[:40]}...",
                )


def texts(k: Knowledge) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Every entry with the texts that the screen and the record show of it."""
    for cause in k.causes.values():
        repair = cause.repair
        steps = [s for part in repair.sequence for s in part.steps]
        yield cause.id, (cause.mechanism, *cause.tell_tales, *steps, *repair.workmanship, *repair.keep)
    for check in k.checks.values():
        steps = [s for part in check.sequence for s in part.steps]
        yield check.id, (check.question, check.purpose, *steps, *check.mistakes, *(r.says for r in check.results))
    for rule in k.rules.values():
        said = [t for a in rule.then for t in (a.says, a.advice, a.hold.says if a.hold else None) if t]
        yield rule.id, (rule.because, *said)
    for caution in k.cautions.values():
        yield caution.id, (caution.says, caution.why)
    for move in k.moves.values():
        yield move.id, (move.title, *move.steps)
    for rule_of_safety in k.safety.values():
        yield rule_of_safety.id, (rule_of_safety.because,)
    for complaint in k.complaints.values():
        yield complaint.id, (complaint.asks, complaint.first)


def hard_questions(k: Knowledge) -> Iterator[Issue]:
    for name, asked in questions(k):
        if (found := grade(asked)) > HIGHEST_GRADE:
            yield Issue("hard-to-read", f"the question of '{name}' is of grade {found:.1f}; {HIGHEST_GRADE:g} is the most")


def hard_texts(k: Knowledge) -> Iterator[Issue]:
    """An entry as a whole is easy to read, and no sentence of it is too long to be kept in mind."""
    for name, said in (*texts(k), *((t.id, (t.says,)) for t in k.glossary.values())):
        if (found := grade(*said)) > HIGHEST_GRADE:
            yield Issue("hard-to-read", f"the texts of '{name}' are of grade {found:.1f}; {HIGHEST_GRADE:g} is the most")
        for sentence in (s for text in said for s in sentences(text)):
            if (count := len(words(sentence))) > LONGEST_SENTENCE:
                yield Issue("hard-to-read", f"a sentence of '{name}' has {count} words; {LONGEST_SENTENCE} is the most: {sentence}")


LINTS: tuple[Lint, ...] = (
    questions_that_are_none, questions_too_long, sentences_long_on_average, steps_too_long, hard_questions, hard_texts,
)  # fmt: skip
