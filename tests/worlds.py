"""Little made-up knowledge for the ranking and the planner: causes and checks in a few words each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from builders import small_machine
from hypothesis import strategies as st

from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.model.machine import Machine
from advisor.model.words import Band, Words
from advisor.reasoning.likelihoods import Space, space
from advisor.reasoning.pairs import pair_chances
from advisor.reasoning.ranking import WORDS
from advisor.reasoning.witnesses import Witness

COMPLAINT = "odd-reading"
USED = dict(zip(WORDS, (0.02, 0.14, 0.36, 0.51, 0.72, 0.86, 0.96), strict=True))
FREQUENCY = {"very-rare": 0.4, "rare": 1.1, "occasional": 2.5, "common": 6.0, "very-common": 19.0}


def words(used: Mapping[str, float] = USED, **changes: Any) -> Words:
    """Probability words with these values; `changes` replaces frequency, second_fault_odds and the like."""
    bands = {word: Band(low=0, high=100, used=value) for word, value in used.items()}
    whole = {
        "probability": bands, "frequency": FREQUENCY, "second_fault_odds": 0.07, "unlisted_share": 0.05,
        "factor": {
            "almost-excluded": 0.1, "much-less": 0.2, "less": 0.4, "bit-less": 0.7, "bit-more": 1.4, "more": 1.7, "much-more": 3.5,
        },
        "unlisted_minutes": 150, "source": "from-memory", "wrong_answer": 0.0, "other_complaint": 1e-9, "ask_minutes": 0.5,
        "visit_minutes": 60,
        "showing": {
            "not_counted": 0.3, "raised": 4, "seen": 0.6, "not_seen": 0.7, "provokes": {"not": 0, "a-little": 0.3, "strongly": 0.6},
        },
    }  # fmt: skip
    return Words.model_validate({**whole, **changes})


def cause(name: str, **changes: Any) -> Cause:
    """A cause without a place, met now and then, that is likely to be reported as the one complaint."""
    whole = {
        "id": name, "title": name.capitalize(), "system": "sensor", "kind": "made-up", "frequency": "occasional",
        "complaints": {COMPLAINT: "likely"}, "mechanism": "Made up.", "tell_tales": ["None"], "proof": {"look": "bad"},
        "retest": "look", "source": "from-memory",
        "repair": {"minutes": 17, "steps": ["Mend it."], "workmanship": ["It is mended"], "recalibrate": "none"},
    }  # fmt: skip
    return Cause.model_validate({**whole, **changes})


def check(name: str, evidence: Mapping[str, Mapping[str, str]], results: Sequence[str] = ("bad", "good"), **changes: Any) -> Check:
    """A check whose last result is the normal one."""
    listed = [{"id": r, "says": r.capitalize(), "normal": r == results[-1]} for r in results]
    whole = {
        "id": name, "title": name.capitalize(), "system": "sensor", "stage": "look", "question": "How is it?", "minutes": 5,
        "purpose": "Made up.", "steps": ["Look."], "mistakes": ["Not looking"], "results": listed, "evidence": evidence,
        "source": "from-memory",
    }  # fmt: skip
    return Check.model_validate({**whole, **changes})


def knowledge(causes: Sequence[Cause], checks: Sequence[Check], worth: Words | None = None) -> Knowledge:
    """The parts of a knowledge that ranking needs; the rest is empty."""
    return Knowledge(
        words=worth or words(), sources={}, fault_modes={}, complaints={}, intake={}, cautions={}, tools={},
        causes={c.id: c for c in causes}, checks={c.id: c for c in checks}, rules={}, rule_cases=(), digest="",
    )  # fmt: skip


def world(causes: Sequence[Cause], checks: Sequence[Check], worth: Words | None = None, machine: Machine | None = None) -> Space:
    return space(knowledge(causes, checks, worth), machine or small_machine(), COMPLAINT)


@st.composite
def likelihood_rows(draw: st.DrawFn, results: Sequence[str]) -> dict[str, str]:
    """Words for some results that leave something over for the rest, as the loader demands."""
    named = draw(st.lists(st.sampled_from(list(results)), min_size=1, max_size=len(results) - 1, unique=True))
    most = [w for w in WORDS if USED[w] < 0.95 / len(named)]
    return {r: draw(st.sampled_from(most)) for r in named}


@st.composite
def spaces(draw: st.DrawFn) -> Space:
    """Two to five causes, some at places, and one to four checks with two or three results, some in one family."""
    kinds = draw(st.lists(st.sampled_from(["none", "none", "splice", "terminal"]), min_size=2, max_size=5))
    frequencies = st.sampled_from(list(FREQUENCY))
    causes = [cause(f"cause-{i}", place=kind, frequency=draw(frequencies)) for i, kind in enumerate(kinds)]
    checks = []
    for n in range(draw(st.integers(1, 4))):
        results = draw(st.sampled_from([("bad", "good"), ("bad", "odd", "good")]))
        named = draw(st.lists(st.sampled_from([c.id for c in causes]), min_size=1, max_size=3, unique=True))
        evidence = {name: draw(likelihood_rows(results)) for name in (*named, "otherwise")}
        at = draw(st.sampled_from([None, None, "terminal", "point"]))
        checks.append(check(f"check-{n}", evidence, results, at=at, family=draw(st.sampled_from([None, "one-look"]))))
    return world(causes, checks)


@st.composite
def witnesses(draw: st.DrawFn, within: Space) -> list[Witness]:
    """Answers to some of the checks, each at most once at a place."""
    found = []
    for entry in within.knowledge.checks.values():
        spots = {"terminal": ["bulkhead:2", "sensor:4"], "point": ["bulkhead", "sensor", None]}.get(entry.at or "", [None])
        for place in draw(st.lists(st.sampled_from(spots), unique=True)):
            result = draw(st.sampled_from([r.id for r in entry.results]))
            found.append(Witness(entry.id, result, place, draw(st.sampled_from([1.0, 1.0, 0.5]))))
    return found


def pair_table(table: np.ndarray, otherwise: np.ndarray, normal: int, members: Sequence[int]) -> np.ndarray:
    """P(result | both suspects) for every two of the members and every result, (results, members, members)."""
    which = list(members)
    joined = [
        pair_chances(table[[normal]][:, which], table[[i]][:, which], otherwise[[normal]], np.array([i == normal]))[0]
        for i in range(len(table))
    ]
    return np.stack(joined)


def shares_of(count: int, minimum: float = 0.0) -> st.SearchStrategy[np.ndarray]:
    """Shares of so many suspects that sum to one."""
    drawn = st.lists(st.floats(max(minimum, 1e-3), 1.0), min_size=count, max_size=count)
    return drawn.map(lambda w: np.array(w) / sum(w))
