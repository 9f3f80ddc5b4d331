"""How likely each cause of a complaint is before any answer."""

from __future__ import annotations

from advisor.model.knowledge import Knowledge


def word_shares(knowledge: Knowledge, complaint: str) -> dict[str, float]:
    """The share of each cause by the words: how often it is met times how likely it is reported so. They sum to one."""
    words = knowledge.words
    found = {}
    for cause in knowledge.causes.values():
        word = cause.complaints.get(complaint)
        reported = words.other_complaint if word is None else words.probability[word].used
        found[cause.id] = words.frequency[cause.frequency] * reported
    total = sum(found.values())
    return {cause: weight / total for cause, weight in found.items()}


def prior_shares(knowledge: Knowledge, complaint: str) -> dict[str, float]:
    """The same with shares counted from closed cases in place of the words. A cause that was not counted keeps its own."""
    found = word_shares(knowledge, complaint)
    counted = knowledge.experience.priors.get(complaint)
    if counted is None:
        return found
    found |= {cause: share for cause, share in counted.shares.items() if cause in found}
    total = sum(found.values())
    return {cause: share / total for cause, share in found.items()}
