"""Whether the fault shows while a check is done: one latent state behind every answer.

With q the chance that it shows,

    P(result | cause) = q P(result | cause, it shows) + (1 - q) P(result | otherwise)

What lasts (wear, play, corrosion, a loose screw) is there whether or not the fault shows, so that q is one. A fault that was
counted n times in T hours and stays for d hours comes so often while somebody looks for m minutes under the conditions that bring
it, or has come so shortly before, that

    q = 1 - exp(-n (r m / 60 + d) / T)

with r the factor by which those conditions raise it (a Poisson process with stays of one length, the queue M/D/infinity). Seen
since the last repair, it can be brought; looked for and not seen, it comes less easily; and a check that provokes it brings it by
itself with a stated chance. The numbers are judgements and stand in words.yaml.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from advisor.model.knowledge import Check
from advisor.model.words import Showing

ALWAYS = 1.0


@dataclass(frozen=True)
class Shown:
    """What is known of how the fault comes and goes.

    `per_hour` is None when nobody counted, `seen` when nobody looked; `lasts_hours` is how long it stays once it has come.
    """

    always: bool = True
    per_hour: float | None = None
    seen: bool | None = None
    lasts_hours: float = 0.0


def showing_chance(check: Check, known: Shown, worth: Showing) -> float:
    """The chance that the fault shows while a check is done, for what does not last."""
    if known.always:
        return ALWAYS
    if known.per_hour is None:
        alone = worth.not_counted
    else:
        alone = 1 - math.exp(-known.per_hour * (worth.raised * check.minutes / 60 + known.lasts_hours))
    if known.seen:
        alone = max(alone, worth.seen)
    elif known.seen is False:
        alone *= worth.not_seen
    return 1 - (1 - alone) * (1 - worth.provokes[check.provokes])
