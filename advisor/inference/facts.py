"""What is known, as facts for the rule engine. All values are text, so that no number equals a truth value by accident."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

NOWHERE = ""  # the place of an answer that has none


class Fact(NamedTuple):
    """One fact: a template's name and its fields, in the template's order. A tuple, for facts are compared all the time."""

    template: str
    fields: tuple[tuple[str, str], ...]

    def get(self, name: str) -> str:
        """The value of a field; empty for a field that this template does not have."""
        return dict(self.fields).get(name, "")


# Every template and its fields. An independent engine can be given exactly these.
TEMPLATES: dict[str, tuple[str, ...]] = {
    "case": ("state",),  # always there: what a rule of nothing but negations stands on
    "complaint": ("id",),
    "intake": ("question", "answer"),
    "code": ("fmi",),
    "codes": ("count",),  # none, one, several
    "answered": ("check", "result", "place"),
    "judged": ("reading", "verdict", "circuit"),
    "layout": ("id",),
    "repaired": ("cause",),
    "finding": ("id",),
}


@lru_cache(maxsize=8192)  # after each answer a case has most of its facts again
def fact(template: str, *values: str) -> Fact:
    """A fact of a template, values in the template's order."""
    return Fact(template, tuple(zip(TEMPLATES[template], values, strict=True)))


def case_facts(
    complaint: str | None,
    intake: dict[str, tuple[str, ...]],
    codes: Iterable[tuple[int | None, int]],
    answers: Iterable[tuple[str, str, str | None]],
    verdicts: Iterable[tuple[str, str]],
    layout: Iterable[str],
    repaired: Iterable[str] = (),
) -> tuple[Fact, ...]:
    """The facts of a case, each once and in one fixed order whatever the order of the answers.

    codes are (suspect parameter number, failure mode) pairs; answers are (check, result, place); verdicts are
    (verdict, circuit) of load-test readings.
    """
    found: set[Fact] = {fact("layout", name) for name in layout} | {fact("case", "open")}
    if complaint is not None:
        found.add(fact("complaint", complaint))
    found |= {fact("intake", question, answer) for question, many in intake.items() for answer in many}
    pairs = set(codes)
    found |= {fact("code", str(fmi)) for _, fmi in pairs}
    parameters = {spn for spn, _ in pairs}
    found.add(fact("codes", "none" if not pairs else "several" if len(parameters) > 1 else "one"))
    found |= {fact("answered", check, result, place or NOWHERE) for check, result, place in answers}
    found |= {fact("judged", "load-test", verdict, circuit) for verdict, circuit in verdicts}
    found |= {fact("repaired", cause) for cause in repaired}
    return tuple(sorted(found))
