"""experience.yaml: what it names has to be there; its numbers in place of the words; and how it is written."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from advisor.errors import Problem
from advisor.evidence.rows import row_names
from advisor.evidence.told import answers
from advisor.library.naming import Spot, known
from advisor.model.experience import CountedRow, Experience
from advisor.model.knowledge import Check, Knowledge

NAME = "experience.yaml"
HEADER = """\
# Numbers counted from closed and proven cases of this shop, with the cases behind each.
# Read them before you use them: does each agree with what the shop knows? Delete what does not.
# Then lay the file into the shop's folder, and name that folder with --shop.
"""
UNSIGNED = """\
# The person who read the numbers writes name and day here, such as 2031-03-04; without them --shop refuses the file.
reviewed_by:
reviewed_on:
"""


def problems(entry: Experience, spot: Spot, k: Knowledge) -> Iterator[Problem]:
    """Everything that the file names and the knowledge does not have."""
    for complaint, prior in entry.priors.items():
        at = ("priors", complaint)
        yield from known(spot, at, complaint, "complaint", k.complaints)
        for cause in prior.shares:
            yield from known(spot, (*at, "shares", cause), cause, "cause", k.causes)
    for complaint, questions in entry.features.items():
        yield from known(spot, ("features", complaint), complaint, "complaint", k.complaints)
        for question, given in questions.items():
            path = ("features", complaint, question)
            asked = k.intake.get(question) or k.checks.get(question)
            if asked is None:
                yield from known(spot, path, question, "fact of the machine", [*k.intake, *k.checks])
                continue
            for answer, counted in given.items():
                yield from known(spot, (*path, answer), answer, f"answer to {question}", answers(asked))
                for cause in counted.times:
                    yield from known(spot, (*path, answer, "times", cause), cause, "cause", k.causes)
    for name, rows in entry.rows.items():
        yield from known(spot, ("rows", name), name, "check", k.checks)
        for row, chances in rows.items() if name in k.checks else ():
            yield from _row(("rows", name, row), chances, k.checks[name], spot)
    for check in entry.checks:
        yield from known(spot, ("checks", check), check, "check", k.checks)
    for cause in entry.repairs:
        yield from known(spot, ("repairs", cause), cause, "cause", k.causes)


def unsigned(entry: Experience, spot: Spot) -> Iterator[Problem]:
    """What keeps numbers that no person has read from being used."""
    if entry.reviewed_by is None:
        hint = "read them, delete what you do not believe, then write your name after reviewed_by"
        yield spot.problem(("reviewed_by",), "no person has signed for these numbers", hint)
    elif entry.reviewed_on is None:
        hint = "write the day of your review after reviewed_on, such as 2031-03-04"
        yield spot.problem(("reviewed_on",), "the review of these numbers has no day", hint)


def _row(path: tuple[str, ...], counted: CountedRow, check: Check, spot: Spot) -> Iterator[Problem]:
    yield from known(spot, path, path[-1], f"row of {check.id}", row_names(check))
    results = [r.id for r in check.results]
    for result in counted.chances:
        yield from known(spot, (*path, "chances", result), result, f"result of {check.id}", results)
    missing = [r for r in results if r not in counted.chances]
    if missing:
        yield spot.problem((*path, "chances"), f"'{missing[0]}' has no chance", "give every result of the check its chance")


def with_experience(k: Knowledge, counted: Experience) -> Knowledge:
    """The knowledge with counted numbers in place of the words and minutes that they speak of."""

    def check(entry: Check) -> Check:
        rows = counted.rows.get(entry.id, {})
        update: dict[str, Any] = {"counted": {name: scaled(r.chances) for name, r in rows.items()}} if rows else {}
        if entry.id in counted.checks:
            update["minutes"] = counted.checks[entry.id].minutes
        return entry.model_copy(update=update) if update else entry

    causes = dict(k.causes)
    for name, timed in counted.repairs.items():
        repair = causes[name].repair.model_copy(update={"minutes": timed.minutes})
        causes[name] = causes[name].model_copy(update={"repair": repair})
    checks = {name: check(entry) for name, entry in k.checks.items()}
    return k.model_copy(update={"experience": counted, "checks": checks, "causes": causes})


def scaled(chances: dict[str, float]) -> dict[str, float]:
    """Chances that add up to one: those of a file are rounded."""
    total = sum(chances.values())
    return {name: p / total for name, p in chances.items()}


def written(counted: Experience, remarks: str = "") -> str:
    """The text of the file, every number with the cases behind it, and nobody's name; `remarks` are comment lines for its head."""
    import yaml

    values = counted.model_dump(mode="json", exclude_defaults=True, exclude={"reviewed_by", "reviewed_on"})
    body = yaml.safe_dump({"format": 1, **values}, sort_keys=True, allow_unicode=True, width=110, default_flow_style=None)
    return HEADER + remarks + UNSIGNED + body
