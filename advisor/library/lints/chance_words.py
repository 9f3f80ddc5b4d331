"""Does a word for chance in a text agree with the evidence words and factors of its entry?

The tables say how likely a thing is, and the ranking follows them. A text that says "always" where no table says
almost-certain tells the technician something that the program does not believe.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from advisor.evidence.rows import word_values
from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Knowledge
from advisor.model.rule import Rule
from advisor.model.words import FactorWord, ProbabilityWord

# What a word of plain English claims: at least, or at most, this probability word.
AT_LEAST: dict[str, ProbabilityWord] = {
    "always": "almost-certain", "certainly": "almost-certain", "invariably": "almost-certain", "without fail": "almost-certain",
    "mostly": "likely", "usually": "likely", "likely": "likely", "probably": "likely", "most often": "likely",
    "often": "roughly-even",
}  # fmt: skip
AT_MOST: dict[str, ProbabilityWord] = {
    "never": "almost-no-chance", "impossible": "almost-no-chance",
    "rarely": "unlikely", "seldom": "unlikely", "unlikely": "unlikely",
}  # fmt: skip
# What a factor comes to when it is put in words; much-more and almost-excluded are the strongest a rule can say.
FACTORS: dict[FactorWord, ProbabilityWord] = {
    "almost-excluded": "almost-no-chance", "much-less": "very-unlikely", "less": "unlikely", "bit-less": "unlikely",
    "bit-more": "likely", "more": "likely", "much-more": "almost-certain",
}  # fmt: skip
GUESSES = ("likely", "unlikely", "probably", "perhaps", "maybe", "possibly")
_CLAIM = re.compile(r"\b(" + "|".join(sorted((*AT_LEAST, *AT_MOST), key=len, reverse=True)) + r")\b", re.IGNORECASE)
_GUESS = re.compile(r"\b(" + "|".join(GUESSES) + r")\b", re.IGNORECASE)
# "seals that rain never passes", "never yet opened": it describes the thing, it does not say how often.
_DESCRIBES = re.compile(r"\b(that|which|who)\b[^.,;]*\bnever\b|\bnot always\b", re.IGNORECASE)


def contradicted(text: str, borne: Iterable[ProbabilityWord], used: dict[str, float]) -> Iterator[str]:
    """The words of chance in a text that none of the words of its entry bears out; an entry without words bears all."""
    values = [used[w] for w in borne]
    for found in _CLAIM.finditer(_DESCRIBES.sub("", text)) if values else ():
        said = found.group(1).lower()
        too_strong = said in AT_LEAST and max(values) < used[AT_LEAST[said]]
        too_weak = said in AT_MOST and min(values) > used[AT_MOST[said]]
        if too_strong or too_weak:
            yield said


def words_against_the_evidence(k: Knowledge) -> Iterator[Issue]:
    """Purposes of checks and mechanisms of causes against the evidence of the checks."""
    used = word_values(k)
    for check in k.checks.values():
        borne = [word for line in check.evidence.values() for word in line.values()]
        for said in contradicted(check.purpose, borne, used):
            yield Issue("chance-word", f"the purpose of '{check.id}' says '{said}', and no word of its evidence does")
    for cause in k.causes.values():
        borne = [word for c in k.checks.values() for word in c.evidence.get(cause.id, {}).values()]
        for said in contradicted(cause.mechanism, [*borne, *cause.complaints.values()], used):
            yield Issue("chance-word", f"the mechanism of '{cause.id}' says '{said}', and no check says so of it")


def words_against_the_rule(k: Knowledge) -> Iterator[Issue]:
    """Reasons, findings and advice of a rule against its own factors."""
    used = word_values(k)
    for rule in k.rules.values():
        factors = [f for a in rule.then for f in (*(a.prior or {}).values(), *(a.evidence or {}).values())]
        for text in _texts(rule):
            for said in contradicted(text, [FACTORS[f] for f in factors], used):
                yield Issue("chance-word", f"the rule '{rule.id}' says '{said}', and none of its factors does: {text}")


def _texts(rule: Rule) -> tuple[str, ...]:
    return (rule.because, *(a.says for a in rule.then), *(a.advice for a in rule.then if a.advice))


def guesses_in_observations(k: Knowledge) -> Iterator[Issue]:
    """A result and a tell-tale say what is seen; how likely that is stands in the tables."""
    texts = [(c.id, r.says) for c in k.checks.values() for r in c.results]
    texts += [(c.id, t) for c in k.causes.values() for t in (c.title, *c.tell_tales)]
    for name, text in texts:
        for found in _GUESS.finditer(text):
            yield Issue("chance-word", f"'{name}' guesses '{found.group(1)}' where it should say what is seen: {text}")


LINTS: tuple[Lint, ...] = (words_against_the_evidence, words_against_the_rule, guesses_in_observations)
