"""Does the time of a piece of work cover its parts: its waits, as often as its steps order them, and a moment for each step?

Only what the words say is counted, so the sum is the least that the work can take.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Knowledge, Part, Work

MOMENT = 0.2  # minutes: nobody reads and does a step in less than twelve seconds
_COUNTED = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "fifteen", "twenty", "thirty")
_WORTH = dict(zip(_COUNTED, (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 15, 20, 30), strict=True)) | {"a": 1, "an": 1, "half a": 0.5}
_NUMBER = rf"\d+(?:\.\d+)?|half a|an?|{'|'.join(_COUNTED)}"
_WAIT = re.compile(
    rf"(?:\b(?:for|after|in|wait|give [a-z ]+?|hold|at least)\s+|,\s+)({_NUMBER})\s+(second|minute)s?\b", re.IGNORECASE
)
_TIMES = re.compile(rf"\b({_NUMBER})\s+times\b(?! (?:as|more))", re.IGNORECASE)
_BOTH = re.compile(r"\beach (?:way|side|stop)\b|\bboth (?:ways|sides|stops)\b", re.IGNORECASE)
_SAME = re.compile(r"\b(?:the same|in the same way|do both again)\b", re.IGNORECASE)


def minutes_short_of_the_parts(k: Knowledge) -> Iterator[Issue]:
    """The time of a piece of work is not less than that of its parts."""
    for name, minutes, parts, points in _works(k):
        # a point to tick off may name a wait that a step orders too, so the longer of both counts
        waits = max(sum(_waits(part) for part in parts), sum(_wait(point) for point in points))
        steps = sum(len(part) for part in parts)
        least = waits + MOMENT * steps
        if least > minutes:
            yield Issue("short-minutes", f"'{name}' takes {minutes:g} min; its {steps} steps and their waits take {least:.3g} min")


def _waits(steps: tuple[str, ...]) -> float:
    """Minutes that these steps wait; a step that does the same again waits as long as the one before it."""
    total = last = 0.0
    for step in steps:
        waited = _wait(step) or (last if _SAME.search(step) else 0.0)
        total += waited
        last = waited or last
    return total


def _wait(said: str) -> float:
    """Minutes of waiting in one step: seconds count as often as the step says, and twice for both sides."""
    found = [_worth(number) / (60 if unit.lower() == "second" else 1) for number, unit in _WAIT.findall(said)]
    short = bool(found) and max(found) < 1
    often = max((_worth(number) for number in _TIMES.findall(said)), default=1.0) if short else 1.0
    return sum(found) * often * (2 if short and _BOTH.search(said) else 1)


def _worth(said: str) -> float:
    return float(_WORTH.get(said.lower(), 0) or said)


def _works(k: Knowledge) -> Iterator[tuple[str, float, list[tuple[str, ...]], tuple[str, ...]]]:
    """Checks, repairs and moves: id, minutes, the steps of each part, and points to tick off."""
    yield from ((c.id, c.minutes, _steps(c), ()) for c in k.checks.values())
    yield from ((c.id, c.repair.minutes, _steps(c.repair), c.repair.workmanship) for c in k.causes.values())
    yield from ((m.id, m.minutes, [m.steps], ()) for m in k.moves.values())


def _steps(work: Work) -> list[tuple[str, ...]]:
    parts: tuple[Part, ...] = work.sequence
    return [part.steps for part in parts]


LINTS: tuple[Lint, ...] = (minutes_short_of_the_parts,)
