"""Words of the knowledge that are neither common English nor in its own glossary: python tests/knowledge_words.py

Common are the 2,500 most frequent words of English in the library wordfreq. An ending such as -s, -ed or -ing makes no other word.
"""

from __future__ import annotations

import re
import statistics
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from wordfreq import top_n_list

from advisor.library.lints.readability import sentences, words
from advisor.library.lints.wording import questions
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge, Work

COMMON = 2500
ENDINGS = ("s", "es", "ed", "d", "ing", "er", "ers", "ly", "est", "y", "ier", "ies", "ied", "iest", "less", "ness", "'s")
SHORTEST = 3  # letters; shorter ones are units and signs


def texts(k: Knowledge) -> Iterator[tuple[str, str]]:
    """Every text that a technician reads, with the id of its entry."""
    for check in k.checks.values():
        for text in (check.title, check.question, check.purpose, *_steps(check), *check.mistakes, *(r.says for r in check.results)):
            yield check.id, text
    for cause in k.causes.values():
        repair = cause.repair
        told = (*repair.workmanship, *repair.parts, *repair.keep, *(f.says for f in repair.found))
        for text in (cause.title, cause.mechanism, *cause.tell_tales, *_steps(repair), *told):
            yield cause.id, text
    for caution in k.cautions.values():
        yield from ((caution.id, caution.says), (caution.id, caution.why))
    for complaint in k.complaints.values():
        yield from ((complaint.id, text) for text in (complaint.title, complaint.asks, complaint.first))
    for rule in k.rules.values():
        yield from ((rule.id, text) for text in (rule.because, *(a.says for a in rule.then), *(a.advice or "" for a in rule.then)))


def _steps(work: Work) -> Iterator[str]:
    yield from (step for part in work.sequence for step in part.steps)


def stems(word: str) -> set[str]:
    """What a word may be made of: tightened of tighten, plugging of plug."""
    found = {word}
    for ending in ENDINGS:
        stem = word.removesuffix(ending)
        if stem != word and len(stem) >= SHORTEST - 1:
            found |= {stem, f"{stem}e", f"{stem}y"}
            if len(stem) > SHORTEST and stem[-1] == stem[-2]:
                found.add(stem[:-1])
    return found


def unknown(k: Knowledge) -> Counter[str]:
    """Each word on neither list, with how often it stands in the knowledge."""
    known = set(top_n_list("en", COMMON))
    known |= {part for term in k.glossary.values() for word in term.words for part in re.findall(r"[a-z]+", word)}
    found: Counter[str] = Counter()
    for _, text in texts(k):
        for word in re.findall(r"[A-Za-z][A-Za-z']*", text):
            if len(word) >= SHORTEST and not word.isupper() and not stems(word.lower()) & known:
                found[word.lower()] += 1
    return found


def lengths(k: Knowledge) -> list[int]:
    """Words of each sentence."""
    return [len(words(sentence)) for _, text in texts(k) for sentence in sentences(text)]


def main() -> None:
    """Prints how long questions and sentences are, then the words on neither list."""
    k = load(Path(__file__).parents[1] / "knowledge")
    longest = max((len(asked), name) for name, asked in questions(k))
    print(f"The longest question has {longest[0]} characters: {longest[1]}.")
    counted = lengths(k)
    print(f"{len(counted)} sentences of {statistics.mean(counted):.1f} words on average, {len(k.glossary)} words in the glossary.")
    found = unknown(k)
    print(f"On neither list, {len(found)} words: " + ", ".join(f"{word} {n}" for word, n in found.most_common()))


if __name__ == "__main__":
    main()
