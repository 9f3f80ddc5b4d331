"""After a repair that did not cure: the place as good as new, a repair that itself failed, and how long the fault stayed away."""

from __future__ import annotations

from functools import cache

import pytest
from builders import small_knowledge
from terminal.talk import talk

from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.model.case import Answered, Case, Event, Opened, Ran, Repaired, Retested
from advisor.model.knowledge import Check, Knowledge
from advisor.model.machine import generic_machine

OPENED = Opened(complaint="motion-without-steering", occurrences=7, hours=15)
CAUSE = "sensor-coupling-loose"
SEEN = Answered(check="coupling-grip", result="slips")
REPAIR = Repaired(cause=CAUSE)
HELD = Retested(by=Answered(check="coupling-grip", result="tight"))
STAYED = {
    "id": "stayed-good", "title": "How long it stayed good", "system": "operator", "stage": "ask", "question": "How long?",
    "purpose": "A wiped contact is good for weeks.", "minutes": 0.5, "source": "common-practice",
    "results": [{"id": "weeks", "says": "Weeks", "usual": 0.2}, {"id": "not-at-all", "says": "It changed nothing", "usual": 0.6}],
}  # fmt: skip


@cache
def asking() -> Knowledge:
    """The small knowledge, in which a poor contact is good for weeks after it was wiped."""
    small = small_knowledge()
    contact = small.causes["poor-terminal-contact"].model_copy(
        update={"told": {"stayed-good": {"weeks": "much-more"}}, "told_because": "It was wiped."}
    )
    checks = {**small.checks, "stayed-good": Check.model_validate(STAYED)}
    return small.model_copy(update={"checks": checks, "causes": {**small.causes, contact.id: contact}})


@cache
def consultation() -> Consultation:
    return Consultation(asking(), generic_machine())


def after(*events: Event) -> Situation:
    return consultation().situation(Case((OPENED, *events)))


def share(s: Situation, cause: str) -> float:
    return s.ranking.of(cause)


def test_what_was_mended_and_did_not_cure_is_as_good_as_new() -> None:
    """Its share falls under that of a part which nobody ever suspected, and what is left keeps its order."""
    never, back = after(), after(SEEN, REPAIR, HELD, Ran(hours=5, recurrences=1))
    assert share(back, CAUSE) < share(never, CAUSE) / 3

    def order(s: Situation) -> list[str]:
        return [r.cause for r in s.assessment.ranking if r.cause != CAUSE]

    assert order(back) == order(never)


def test_the_rest_holds_together_what_the_repaired_one_held() -> None:
    """A fault that is still there after a true one was mended is a second one: the others rise by what the first loses."""
    before, back = after(SEEN), after(SEEN, REPAIR, HELD, Ran(hours=5, recurrences=1))
    assert share(before, CAUSE) > 0.5
    for line in before.assessment.ranking:
        if line.cause != CAUSE:
            assert share(back, line.cause) > share(before, line.cause)


def test_a_repair_that_itself_failed_leaves_its_cause_as_it_was() -> None:
    """The direct proof shows it again: the part is not mended, no run is owed, and the repair is what comes next."""
    failed = after(SEEN, REPAIR, Retested(by=SEEN))
    assert share(failed, CAUSE) == pytest.approx(share(after(SEEN), CAUSE), abs=0.02)
    assert failed.last is not None
    assert (failed.last.standing, failed.last.botched) == ("failed", True)
    step = consultation().assessed(failed).next
    assert step is not None
    assert (step.kind, step.id) == ("repair", CAUSE)


def test_a_repair_that_itself_failed_twice_is_not_advised_again() -> None:
    """Done again and shown again: something else brings what the proof shows, and another step comes next."""
    once = after(SEEN, REPAIR, Retested(by=SEEN))
    twice = after(SEEN, REPAIR, Retested(by=SEEN), REPAIR, Retested(by=SEEN))
    assert share(twice, CAUSE) < share(once, CAUSE) / 3
    step = consultation().assessed(twice).next
    assert step is not None
    assert (step.kind, step.id) != ("repair", CAUSE)


def test_a_later_look_that_is_good_takes_the_failure_back() -> None:
    """What counts is the last look at the place."""
    mended = after(SEEN, REPAIR, Retested(by=SEEN), HELD)
    assert mended.last is not None
    assert not mended.last.botched


def test_how_long_it_stayed_away_is_a_fact_of_its_own() -> None:
    """Weeks of peace after a repair speak for a contact that was wiped by it; a fault that never left does not."""

    def contact(stayed: str | None) -> float:
        return share(after(SEEN, REPAIR, HELD, Ran(hours=5, recurrences=1, stayed=stayed)), "poor-terminal-contact")

    assert contact("weeks") > 1.4 * contact(None)
    assert contact(None) > contact("not-at-all")


def test_it_is_asked_only_where_it_came_back() -> None:
    """After a recurrence the four answers are offered, one of them that it never left; Enter alone is not sure."""
    stored: dict[str, Ran] = {}
    for name, more in {"weeks": ("2", "weeks"), "unsure": ("2", ""), "quiet": ("0",)}.items():
        told = talk("run 6", "yes", *more, stored=[OPENED, SEEN, REPAIR, HELD], knowledge=asking())
        assert ("How long did it stay good after the repair?" in told.printed) == (name != "quiet")
        stored[name] = next(e for e in told.stored if isinstance(e, Ran))
    assert [stored[n].stayed for n in ("weeks", "unsure", "quiet")] == ["weeks", None, None]
