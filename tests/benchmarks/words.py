"""Listens to the stories of the field cases and to invented ones, and prints how many of the facts found are right, and how
many of those told are found.

    python tests/benchmarks/words.py [-v]

The phrases were written from the trade and from half A of the field cases: every second file by name. Half B was read once, before
that, to judge what it tells; none of what was missed or wrong in it led to a phrase. What the words of a story tell is a reader's
judgement: told/judgement.yaml and told/stories.yaml beside this file. `-v` names each fact that was found and is wrong, and each
that was told and missed.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

from folders import ROOT, real_knowledge

from advisor.library.reader import read
from advisor.model.case import COMPLAINT
from advisor.session.hearing import Ear

TOLD = Path(__file__).parent / "told"
FIELD = sorted((ROOT / "scenarios" / "field").glob("*.yaml"))
COUNTED = ("occurrences", "hours")  # numbers of the intake, which no phrase finds
NOT_KNOWN = "not-known"
Fact = tuple[str, str]


@dataclass(frozen=True)
class Story:
    """What somebody said, the facts that a reader finds in it, and those that are right as well."""

    name: str
    half: str
    text: str
    told: frozenset[Fact]
    right: frozenset[Fact]


def _facts(given: dict[str, Any]) -> frozenset[Fact]:
    pairs = [(q, a) for q, v in given.items() if q not in COUNTED for a in (v if isinstance(v, list) else [v])]
    words = {True: "yes", False: "no"}
    return frozenset((q, words.get(a, str(a)) if isinstance(a, bool) else str(a)) for q, a in pairs if a != NOT_KNOWN)


def stories() -> Iterator[Story]:
    """The field cases, half A and half B, then the invented stories, then single facts told in a few plain words."""
    judged = read(TOLD / "judgement.yaml").data
    for number, file in enumerate(FIELD):
        case, entry = read(file).data, judged[file.stem]
        every = _facts({**case["facts"], **case["intake"]})
        told = every - _facts(entry.get("not_told", {}))
        right = every | _facts(entry.get("also_told", {}))
        yield Story(file.stem, "half A" if number % 2 == 0 else "half B", case["story"], told, right)
    for entry in read(TOLD / "stories.yaml").data:
        told = _facts(entry["told"])
        yield Story(entry["id"], "invented", entry["story"], told, told)
    for entry in read(TOLD / "plain_ways.yaml").data:
        told = _facts(entry["told"])
        yield Story(entry["said"], "plain ways", entry["said"], told, told)


def main(arguments: list[str]) -> int:
    ear, verbose = Ear(real_knowledge()), "-v" in arguments
    counts: dict[str, list[int]] = {}
    for story in stories():
        heard = {(f.question, f.answer): f for f in ear.hear(story.text) if f.question != COMPLAINT}
        hits = (heard.keys() & story.right, heard.keys(), heard.keys() & story.told, story.told)
        for half in (story.half, "field cases" if story.half.startswith("half") else ""):
            sums = counts.setdefault(half, [0, 0, 0, 0])
            for i, facts in enumerate(hits):
                sums[i] += len(facts)
        if verbose:
            for fact in sorted(heard.keys() - story.right):
                print(f"{story.half}, {story.name}: wrong {': '.join(fact)} in '{heard[fact].words}' ({heard[fact].phrase})")
            print(
                f"{story.half}, {story.name}: missed {', '.join(': '.join(f) for f in sorted(story.told - heard.keys())) or 'none'}"
            )
    for half in ("half A", "half B", "field cases", "invented", "plain ways"):
        right, heard, found, told = counts[half]
        print(
            f"{half}: {right} of {heard} facts found are right ({right / heard:.3f}); "
            f"{found} of {told} told are found ({found / told:.3f})"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
