"""What rules, codes and repairs in vain make of the suspects' priors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from advisor.consultation.episodes import Episode
from advisor.inference.compiler import Conclusion
from advisor.inference.engine import Fired
from advisor.model.finding import Suspect
from advisor.model.knowledge import Knowledge
from advisor.model.stage import ASK
from advisor.reasoning.likelihoods import Space

# A repaired place is as good as new: prior factor of its cause when the fault was seen again; a judgement, no source.
REPAIRED_FACTOR = 0.05


def mended(knowledge: Knowledge, space: Space, vain: Sequence[Episode]) -> Mapping[int, frozenset[str]]:
    """The suspects that were repaired in vain, each with the checks that can show it.

    What showed it was mended. Seen again after the repair it is more of the same, and no second witness against it.
    """
    found: dict[int, frozenset[str]] = {}
    for i, s in enumerate(space.suspects if vain else ()):
        if any(_repaired(e, s) for e in vain):
            cause = knowledge.causes[s.cause]
            found[i] = frozenset({*cause.proof, *cause.retest})
    return found


def factors(knowledge: Knowledge, space: Space, concluded: Sequence[tuple[Fired, Conclusion]], vain: Sequence[Episode]) -> Any:
    """Prior factors of rules and codes, and of repairs that did not cure, one a suspect.

    What rules concluded for a cause from what was seen went with its repair.
    """
    import numpy as np

    suspects, worth = space.suspects, knowledge.words.factor
    causes = {s.cause: 1.0 for s in suspects}
    seen = dict(causes)
    weighs = ((f, c) for f, c in concluded if c.kind in ("prior", "evidence"))
    said = {(f.rule.id, c.subject, c.word, _was_seen(knowledge, f)) for f, c in weighs}
    for _, cause, word, by_look in sorted(said, key=str):  # a rule that fires on several answers or places says it once
        if cause in causes:
            causes[cause] *= worth[word]  # type: ignore[index]
            seen[cause] *= max(1.0, worth[word]) if by_look else 1.0  # type: ignore[index]
    if not vain:
        return np.array([causes[s.cause] for s in suspects])
    times = [sum(_repaired(e, s) for e in vain) for s in suspects]
    gone = [REPAIRED_FACTOR**n / seen[s.cause] if n else 1.0 for n, s in zip(times, suspects, strict=True)]
    return np.array([causes[s.cause] * g for s, g in zip(suspects, gone, strict=True)])


def _was_seen(knowledge: Knowledge, f: Fired) -> bool:
    """Whether a rule fired on what a check found, not only on what was told."""
    checks = [knowledge.checks.get(str(p.get("check"))) for p in f.premises if p.template == "answered"]
    return any(c is not None and c.stage != ASK for c in checks)


def _repaired(episode: Episode, suspect: Suspect) -> bool:
    return suspect.cause == episode.repair.cause and episode.repair.place in (None, suspect.place)
