"""One consultation serves many states: what it keeps between them changes no advice."""

from __future__ import annotations

from builders import small_knowledge, small_machine

from advisor.consultation.consultation import Consultation
from advisor.model.case import Answered, Case, Event, Opened, Reading

READING = Reading.model_validate({"circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 24.6, "loaded": 23.9})
ANSWER = Answered(check="wiggle-harness", result="quiet")  # lets go what unplugs


def planned(consultation: Consultation, case: Case) -> dict[tuple[str, ...], float]:
    return dict(consultation.assess(case).to_the_end)


def test_what_was_predicted_for_one_state_is_not_told_of_another() -> None:
    """Readings come and go and the complaint changes: the minutes to the end are those of a consultation begun afresh."""
    used, seen = Consultation(small_knowledge(), small_machine()), []
    told: list[tuple[Event, ...]] = [(ANSWER,), (ANSWER, READING), (READING,), (ANSWER,)]
    for complaint in ("motion-without-steering", "reads-low", "motion-without-steering"):
        for events in told:
            case = Case((Opened(complaint=complaint), *events))
            seen.append(planned(used, case))
            assert seen[-1] == planned(Consultation(small_knowledge(), small_machine()), case)
    assert any(key[0] == "load-test" for key in seen[0])
    assert seen[0] != seen[1]
