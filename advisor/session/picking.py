"""One of several answers from what was typed: a number, an id, or the beginning of its words."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from advisor.errors import InputError, short

NEAR = 80.0  # likeness from 0 to 100 from which an answer is named; a judgement, no source
AS_NEAR = 4.0  # and how much less another one may have
YES_OR_NO = "yes or no"  # what is typed where nothing else is offered
MOST_LETTERS = 500  # of an answer; what is longer, such as a pasted file, is none


def pick(text: str, choices: Sequence[tuple[str, str]]) -> str:
    """The id chosen by number, by id, or by the unmistakable beginning of either its id or its words. Raises InputError."""
    ids = [c[0] for c in choices]
    if not text:
        raise InputError("nothing was typed", f"Type {_range(choices)}.")
    if text.isascii() and text.isdigit():
        number = int(text[:9])
        if 1 <= number <= len(ids):
            return ids[number - 1]
        raise InputError(f"there is no answer {short(text)}", f"Type {_range(choices)}.")
    if len(text.split()) > 1 and all(w.isascii() and w.isdigit() for w in text.replace(",", " ").split()):
        raise InputError("one answer fits here, and more were typed", f"Type {_range(choices)}: the one that fits best.")
    if len(text) > MOST_LETTERS:
        raise InputError(f"'{short(text)}' is not one of the answers", meant(like(text, choices), choices))
    word = text.lower()
    if word in ids:
        return word
    begins = {i for i, says in choices if i.startswith(word) or says.lower().startswith(word)} or _holding(word, choices)
    if len(begins) == 1:
        return begins.pop()
    if begins:
        what = f"'{short(text)}' fits more than one answer: {numbered(begins, choices)}"
        raise InputError(what, "Type one of these numbers.")
    raise InputError(f"'{short(text)}' is not one of the answers", meant(like(word, choices), choices))


def like(text: str, choices: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The ids of the answers whose words are spelt nearly as those typed, nearest first; none where none comes near."""
    from rapidfuzz import fuzz

    typed = [t for t in text[:MOST_LETTERS].lower().replace("-", " ").split() if len(t) > 2]

    def likeness(choice: tuple[str, str]) -> float:
        words = " ".join(choice).lower().replace("-", " ").split()
        return sum(max(fuzz.ratio(t, w) for w in words) for t in typed) / len(typed)

    scored = sorted(((likeness(c), c[0]) for c in choices), key=lambda s: -s[0]) if typed else []
    return tuple(name for score, name in scored if score >= NEAR and score >= scored[0][0] - AS_NEAR)[:3]


def meant(found: Sequence[str], choices: Sequence[tuple[str, str]]) -> str:
    """What to type for one of these answers, or for any where there are none."""
    if not found:
        wanted = _range(choices)
        return f"Type {wanted}." if wanted == YES_OR_NO else f"Type {wanted}, or the first words of an answer."
    says = [f"{n} for: {says}" for n, (name, says) in enumerate(choices, 1) if name in found]
    return f"Type {'; '.join(says)}."


def _range(choices: Sequence[tuple[str, str]]) -> str:
    """What can be typed: the numbers, or yes and no, which often stand without numbers."""
    if [says for _, says in choices] == ["Yes", "No"]:
        return YES_OR_NO
    return f"a number from 1 to {len(choices)}" if len(choices) > 1 else "1"


def numbered(found: Collection[str], choices: Sequence[tuple[str, str]]) -> str:
    """The numbers of some of the answers."""
    return ", ".join(str(n) for n, (i, _) in enumerate(choices, 1) if i in found)


def _holding(text: str, choices: Sequence[tuple[str, str]]) -> set[str]:
    """The answers in which every typed word begins some word; none for signs and figures, for -1 is no word of an answer."""
    if not any(c.isalpha() for c in text):
        return set()
    typed = text.replace("-", " ").split()

    def holds(choice: tuple[str, str]) -> bool:
        words = " ".join(choice).lower().replace("-", " ").split()
        return all(any(word.startswith(t) for word in words) for t in typed)

    return {choice[0] for choice in choices if typed and holds(choice)}
