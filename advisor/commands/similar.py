"""The command that names past cases like one, and the line that `why` says of them."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.closed_index import closed_index
from advisor.commands.own import progress, screen
from advisor.commands.shared import Layers, case_store, load_knowledge, print_out
from advisor.commands.stored import named_now
from advisor.errors import ExitCode, StoreError, UsageError
from advisor.model.case import Case, fold

if TYPE_CHECKING:
    from advisor.model.knowledge import Knowledge
    from advisor.model.summary import Alike
    from advisor.store.folder import CaseStore
    from advisor.store.index import ClosedIndex

MOST = 200  # cases among which the causes are counted


def seen_before(store: CaseStore, knowledge: Knowledge) -> Callable[[Case], tuple[str, ...]]:
    """What `why` says of closed cases like this one. It is a help: an index that cannot be used says nothing."""

    def tell(case: Case) -> tuple[str, ...]:
        index = closed_index(store, knowledge)
        try:
            index.refresh()
            return tuple(counted(knowledge, _nearest(index, knowledge, case, "")))
        except StoreError:
            return ()

    return tell


def _nearest(index: ClosedIndex, knowledge: Knowledge, case: Case, case_id: str) -> list[Alike]:
    from advisor.experience.alike import LIKE, weights
    from advisor.experience.closed import given

    state = fold(case)
    assert state.opened is not None
    answers = frozenset(given(state.opened, state))
    found = index.nearest(state.opened.complaint, answers, weights(knowledge), most=MOST, but=case_id)
    return [one for one in found if one.likeness >= LIKE]


def counted(knowledge: Knowledge, found: Sequence[Alike]) -> list[str]:
    """How many were like this, and what they were, the proven ones alone; nothing when there are none."""
    proven = [one for one in found if one.proven]
    if not proven:
        return []
    causes = Counter(one.cause for one in proven)
    parts = [f"{n} {'was' if n == 1 else 'were'}: {_title(knowledge, cause)}" for cause, n in causes.most_common(3)]
    middle = f"{sorted(one.minutes for one in proven)[len(proven) // 2]:.0f} min"
    took = f"It took {middle}." if len(proven) == 1 else f"The median of them took {middle}."
    return [f"Seen before: {len(proven)} like this. {'; '.join(parts)}. {took}"]


def _title(knowledge: Knowledge, cause: str | None) -> str:
    entry = knowledge.causes.get(cause or "")
    return entry.title if entry is not None else cause or "no cause found"


def similar(
    layers: Layers, data_dir: Path | None, case: str | None, words: str | None, most: int, *, as_json: bool, plain: bool
) -> ExitCode:
    """Lists the closed cases most like one, the newest when none is named; or those whose notes hold words."""

    if most < 1:
        raise UsageError(f"--most {most} shows nothing", "Write 1 or more.")
    store, knowledge = case_store(data_dir), load_knowledge(layers)
    index = closed_index(store, knowledge)
    if words is None:
        name = store.newest() if case is None else store.resolve(case)
        told = named_now(knowledge, store.read(name))
        with progress("Reading closed cases"):
            trouble = index.refresh()
        found = _nearest(index, knowledge, told.case, name)
    else:
        with progress("Reading closed cases"):
            trouble = index.refresh()
        name, found = "", index.holding(words, most=most)
    if as_json:
        whole = {"format": 1, "case": name or None, "closed_cases": index.count(), "similar": [asdict(a) for a in found[:most]]}
        print_out(json.dumps({**whole, "left_out": list(trouble)}, indent=1, sort_keys=True))
        return ExitCode.OK
    terminal = screen(plain=plain)
    for text in trouble:
        terminal.line(f"Left out: {text}", hang=2)
    for line in counted(knowledge, found) if words is None else ():
        terminal.line(line, "bold", hang=2)
    for one in found[:most]:
        _row(terminal.line, knowledge, one)
    if not found:
        terminal.line(
            f"None of {index.count()} closed cases is like this one." if words is None else "No closed case holds these words."
        )
    return ExitCode.OK


def _row(line: Callable[..., None], knowledge: Knowledge, one: Alike) -> None:
    like = f"{one.likeness:.0%} alike. " if one.likeness else ""
    at = f" at {one.place}" if one.place else ""
    proven = "Proven by retest and hours." if one.proven else "Not proven."
    line(f"{one.case_id} ({one.closed[:10]}): {like}{_title(knowledge, one.cause)}{at}. {proven} {one.minutes:.0f} min.", hang=2)
