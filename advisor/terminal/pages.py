"""One entry of the knowledge as a page that a technician reads."""

from __future__ import annotations

from advisor.consultation.stand_words import needs
from advisor.evidence.rows import OTHERWISE
from advisor.model.knowledge import Cause, Caution, Check, Complaint, Knowledge, Term, Tool
from advisor.model.rule import Rule
from advisor.model.states import Move, SafetyRule
from advisor.terminal import views
from advisor.terminal.environment import Terminal


def page(terminal: Terminal, knowledge: Knowledge, entry: object) -> None:
    """Prints a complaint, cause, check, rule, move, safety rule, caution, tool or word."""
    match entry:
        case Check():
            _check(terminal, knowledge, entry)
        case Cause():
            _cause(terminal, knowledge, entry)
        case Rule():
            terminal.rule(f"Rule {entry.id}")
            terminal.line(entry.because)
            for action in entry.then:
                said = action.advice or action.says or (action.hold.says if action.hold else "")
                if said:
                    terminal.line(f"- {said}", indent=2, hang=2)
            _source(terminal, knowledge, entry.source)
        case Move():
            terminal.rule(entry.title)
            views.cautions(terminal, knowledge, entry.cautions)
            views.numbered(terminal, entry.steps)
            terminal.line(f"{entry.minutes:g} min. Before: {needs(knowledge, {**entry.when, **entry.from_})}.", hang=2)
            terminal.line(f"Afterwards: {needs(knowledge, {k: (v,) for k, v in entry.sets.items()})}.", hang=2)
        case SafetyRule():
            terminal.rule(f"Never together: {entry.id}")
            terminal.line(entry.because)
            terminal.line(f"Forbidden: {needs(knowledge, entry.forbids)}.", hang=2)
            _source(terminal, knowledge, entry.source)
        case Complaint():
            terminal.rule(entry.title)
            terminal.line(f'"{entry.asks}"')
            terminal.line(f"First: {entry.first}", hang=2)
            causes = [c for c in knowledge.causes.values() if entry.id in c.complaints]
            terminal.line(f"{len(causes)} causes are on the list:", "bold")
            for cause in causes:
                terminal.line(f"- {cause.title} ({cause.id})", indent=2, hang=2)
        case Caution():
            terminal.rule("Caution")
            terminal.line(entry.says, "bold")
            terminal.line(entry.why)
            _source(terminal, knowledge, entry.source)
        case Term():
            terminal.rule(entry.id.replace("-", " "))
            terminal.line(entry.says)
            if entry.also:
                terminal.line(f"Also: {', '.join(entry.also)}", hang=2)
        case Tool():
            terminal.line(entry.title)


def _source(terminal: Terminal, knowledge: Knowledge, name: str) -> None:
    source = knowledge.sources[name]
    said = f"Source: {source.title}" + (f", {source.where}" if source.where else "")
    terminal.line(said, hang=2, comma=False)  # its numbers name paragraphs


def _check(terminal: Terminal, knowledge: Knowledge, check: Check) -> None:
    terminal.rule(check.title)
    terminal.line(check.purpose)
    terminal.line(
        f"About {check.minutes:g} min, without the way to it. Machine: {needs(knowledge, check.needs) or 'as it is'}.", hang=2
    )
    views.cautions(terminal, knowledge, check.cautions)
    views.check(terminal, knowledge, check)
    terminal.line(check.question, "bold")
    views.options(terminal, [(r.id, r.says + (" (normal)" if r.normal else "")) for r in check.results])
    terminal.line("How likely each result is:", "bold")
    for cause, row in check.evidence.items():
        named = knowledge.causes.get(cause) or knowledge.kinds.get(cause)
        name = "any other cause" if cause == OTHERWISE or named is None else named.title
        words = ", ".join(f"{result} {word.replace('-', ' ')}" for result, word in row.items())
        terminal.line(f"- {name}: {words}", indent=2, hang=2)
    _source(terminal, knowledge, check.source)


def _cause(terminal: Terminal, knowledge: Knowledge, cause: Cause) -> None:
    terminal.rule(cause.title)
    terminal.line(cause.mechanism)
    terminal.line("Tell-tales:", "bold")
    for text in cause.tell_tales:
        terminal.line(f"- {text}", indent=2, hang=2)
    terminal.line("Proven by:", "bold")
    for check_id, result in cause.proof.items():
        says = next(r.says for r in knowledge.checks[check_id].results if r.id == result)
        terminal.line(f"- {knowledge.checks[check_id].title}: {says} ({check_id})", indent=2, hang=2)
    terminal.rule(f"Repair, about {cause.repair.minutes:.0f} min")
    terminal.line(f"Machine: {needs(knowledge, cause.repair.needs) or 'as it is'}.", hang=2)
    views.cautions(terminal, knowledge, cause.repair.cautions)
    views.repair(terminal, knowledge, cause.repair)
    terminal.line("Retest: " + "; ".join(knowledge.checks[c].title for c in cause.retest) + ".", hang=2)
    _source(terminal, knowledge, cause.source)
