"""Random sets of answers, true or not: what is concluded from them stays a number, sums to one, and says when nothing fits.

    python tests/benchmarks/honesty.py [--sets 10000] [--steps 300] [--walks 0] [--seed 1]

`--sets`: rankings of random answers to random checks, many of them contradicting one another. `--steps`: as many of them with the
next step worked out. `--walks`: technicians who do thirty things each in any order, held to a simple model. Prints how many shares
were no numbers or did not sum to one, how many repairs were advised while a rule held them, how many steps were advised that a rule
holds, and how often "something not on this list" led. Ends with 1 if any of these is wrong.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from builders import MACHINE, small_knowledge, small_machine, trade_knowledge

from advisor.consultation import answers
from advisor.consultation.consultation import Consultation
from advisor.errors import InputError
from advisor.model.case import Answered, Case, Event, Opened, Repaired
from advisor.model.finding import NOT_LISTED, Assessment
from advisor.model.knowledge import Knowledge
from advisor.reasoning.likelihoods import check_places


@dataclass(frozen=True)
class Concluded:
    """What was concluded from one set of answers."""

    answers: int
    wrong: str  # what is wrong with it; empty when nothing is
    not_listed: float


@cache
def consultation(shipped: bool) -> Consultation:
    return Consultation(trade_knowledge() if shipped else small_knowledge(), small_machine())


def drawn(knowledge: Knowledge, dice: random.Random) -> Case:
    """A case with up to forty random answers, some places, now and then a repair."""
    opened = Opened(complaint=dice.choice(sorted(knowledge.complaints)), machine=MACHINE)
    events: list[Event] = [opened]
    for _ in range(dice.randint(0, 40)):
        check = knowledge.checks[dice.choice(sorted(knowledge.checks))]
        place = dice.choice(list(check_places(check, small_machine())))
        result = dice.choice(check.results).id
        if dice.random() < 0.03:
            events.append(Repaired(cause=dice.choice(sorted(knowledge.causes))))
        try:
            events.append(answers.answer(knowledge, small_machine(), check.id, result, place))
        except InputError:
            continue  # this check is answered with a number, or is not done here
    return Case(tuple(events))


def wrong_with(found: Assessment) -> str:
    """What no assessment may be; empty when it is none of it."""
    shares = [share for _, _, share in found.suspects]
    if not all(math.isfinite(s) and 0 <= s <= 1 for s in (*shares, *(r.share for r in found.ranking))):
        return "a share is no number from 0 to 1"
    if not 1 - 1e-9 <= math.fsum(shares) <= 2 + 1e-9:  # one fault or two at once: each share is of all hypotheses that hold it
        return f"the shares sum to {math.fsum(shares)!r}"
    step = found.next
    if step is None:
        return ""
    if step.kind == "repair" and any(h.kind == "cause" and h.target == step.id for h in found.holds):
        return f"the repair of {step.id} is advised while a rule holds it"
    if step.kind == "check" and any(h.kind == "check" and h.target == step.id for h in found.holds):
        return f"{step.id} is advised while a rule holds it"
    if not math.isfinite(step.to_the_end) or not step.title or not all(step.reason):
        return f"{step.id or step.kind} is advised without a price or a reason"
    return ""


def concluded(sets: int, seed: int, *, shipped: bool, plan: bool) -> Iterator[Concluded]:
    """So many random sets of answers."""
    dice, ours = random.Random(seed), consultation(shipped)
    for _ in range(sets):
        case = drawn(ours.knowledge, dice)
        situation = ours.situation(case)
        found = ours.assessed(situation) if plan else situation.assessment
        weights = situation.ranking.weights
        odd = "" if weights.min() >= 0 and abs(math.fsum(weights) - 1) < 1e-9 else "the hypotheses do not sum to one"
        listed = next((s for suspect, _, s in found.suspects if suspect.cause == NOT_LISTED), 0.0)
        yield Concluded(sum(isinstance(e, Answered) for e in case.events), odd or wrong_with(found), listed)


def told(what: str, found: list[Concluded]) -> bool:
    bad = [c.wrong for c in found if c.wrong]
    print(
        f"{what}: {len(found)} sets with {sum(c.answers for c in found)} answers, {len(bad)} wrong; "
        f"something not on the list holds more than half in {sum(c.not_listed > 0.5 for c in found)}"
    )
    for text in bad[:5]:
        print(f"  {text}")
    return not bad


def main() -> int:
    parser = argparse.ArgumentParser()
    for name, usual in (("--sets", 10_000), ("--steps", 300), ("--walks", 0), ("--seed", 1)):
        parser.add_argument(name, type=int, default=usual)
    options = parser.parse_args()
    few = options.sets // 10
    well = told("small knowledge", list(concluded(options.sets - few, options.seed, shipped=False, plan=False)))
    well &= told("shipped knowledge", list(concluded(few, options.seed, shipped=True, plan=False)))
    well &= told("with the next step", list(concluded(options.steps, options.seed + 1, shipped=False, plan=True)))
    if options.walks:
        from attacks.test_honesty import walked

        print(f"{options.walks} technicians: {walked(options.walks, 30)} looks at a case, each as the model says")
    return int(not well)


if __name__ == "__main__":
    sys.exit(main())
