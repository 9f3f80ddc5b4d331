"""The page of how a machine can stand: for each variable the moves between its values, and what must never hold together."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.consultation.stand_words import doing_words, needs
from advisor.model.knowledge import Knowledge
from advisor.model.states import PLUG, PLUGS, Move, SafetyRule, Variable
from advisor.record.layered import Drawn, Node, layered
from advisor.record.render import states_html

ANY = "however it is"


def states_page(knowledge: Knowledge) -> str:
    """The page as one file without any outside resource."""
    return states_html(tuple(_variables(knowledge)), tuple(_rules(knowledge)))


def _variables(knowledge: Knowledge) -> Iterator[Drawn]:
    for variable in knowledge.variables.values():
        moves = [m for m in knowledge.moves.values() if _value(variable, m) is not None]
        if moves:
            yield _moves(knowledge, variable, moves)


def _names(variable: Variable) -> tuple[str, ...]:
    """What a variable is called in a move: its own name, or one for some of the plugs."""
    return PLUGS if variable.id == PLUG else (variable.id,)


def _value(variable: Variable, move: Move) -> str | None:
    """The value that a move gives a variable."""
    return next((move.sets[n] for n in _names(variable) if n in move.sets), None)


def _moves(knowledge: Knowledge, variable: Variable, moves: list[Move]) -> Drawn:
    says = {v.id: v.says for v in variable.values}
    nodes: dict[str, Node] = {}
    links: list[tuple[str, str]] = []
    words: list[str] = []
    for move in moves:
        to = _value(variable, move)
        before = next((move.from_[n] for n in _names(variable) if n in move.from_), ())
        others = {n: v for n, v in {**move.from_, **move.when}.items() if n not in _names(variable) or n in move.when}
        when = needs(knowledge, others)
        small = f"{move.minutes:g} min" + (f"; when {when}" if when else "")
        nodes[f"move {move.id}"] = Node(f"move {move.id}", 1, move.title, small)
        for value in before or ("",):
            nodes.setdefault(f"from {value}", Node(f"from {value}", 0, says.get(value, ANY)))
            links.append((f"from {value}", f"move {move.id}"))
        nodes.setdefault(f"to {to}", Node(f"to {to}", 2, says[str(to)]))
        links.append((f"move {move.id}", f"to {to}"))
        start = " or ".join(says[v] for v in before) or ANY
        words.append(f"{move.title}: from {start} to {says[str(to)]}, {move.minutes:g} min." + (f" When {when}." if when else ""))
    return Drawn(variable.id, variable.title, layered(list(nodes.values()), links), tuple(words))


def _rules(knowledge: Knowledge) -> Iterator[Drawn]:
    """What must never be true at the same time, one picture for each thing that is done."""
    groups: dict[str, list[SafetyRule]] = {}
    for rule in knowledge.safety.values():
        groups.setdefault(doing_words(rule.doing, rule.at), []).append(rule)
    for number, (done, rules) in enumerate(groups.items(), 1):
        nodes, links, words = [Node("done", 0, f"While {done}" if rules[0].doing is not None else "At any time")], [], []
        for rule in rules:
            state, source = needs(knowledge, rule.forbids), knowledge.sources[rule.source].title
            nodes += [Node(f"why {rule.id}", 1, rule.because), Node(f"not {rule.id}", 2, f"Never: {state}", source)]
            links += [("done", f"why {rule.id}"), (f"why {rule.id}", f"not {rule.id}")]
            caution = f" Shown before it: {knowledge.cautions[rule.caution].says}" if rule.caution else ""
            words.append(f"{nodes[0].title}, never: {state}. {rule.because} Source: {source}.{caution}")
        yield Drawn(f"rule-{number}", nodes[0].title, layered(nodes, links), tuple(words))
