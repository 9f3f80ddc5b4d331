"""One of several answers from what was typed: a number, an id, or the beginning of its words."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from advisor.errors import InputError, nearest, short


def pick(text: str, choices: Sequence[tuple[str, str]]) -> str:
    """The id chosen by number, by id, or by the unmistakable beginning of either its id or its words. Raises InputError."""
    ids = [c[0] for c in choices]
    if not text:
        raise InputError("nothing was typed", f"Type a number from 1 to {len(ids)}.")
    if text.isascii() and text.isdigit():
        number = int(text[:9])
        if 1 <= number <= len(ids):
            return ids[number - 1]
        raise InputError(f"there is no answer {short(text)}", f"Type a number from 1 to {len(ids)}.")
    word = text.lower()
    if word in ids:
        return word
    begins = {i for i, says in choices if i.startswith(word) or says.lower().startswith(word)} or _holding(word, choices)
    if len(begins) == 1:
        return begins.pop()
    if begins:
        what = f"'{short(text)}' fits more than one answer: {numbered(begins, choices)}"
        raise InputError(what, "Type one of these numbers.")
    hint = nearest(word, ids)
    if not hint.startswith("did"):  # nothing is near: ids of every answer are a riddle
        hint = f"Type a number from 1 to {len(ids)}, or the first words of an answer."
    raise InputError(f"'{short(text)}' is not one of the answers", hint[:1].upper() + hint[1:])


def numbered(found: Collection[str], choices: Sequence[tuple[str, str]]) -> str:
    """The numbers of some of the answers."""
    return ", ".join(str(n) for n, (i, _) in enumerate(choices, 1) if i in found)


def _holding(text: str, choices: Sequence[tuple[str, str]]) -> set[str]:
    """The answers in which every typed word begins some word."""
    typed = text.replace("-", " ").split()

    def holds(choice: tuple[str, str]) -> bool:
        words = " ".join(choice).lower().replace("-", " ").split()
        return all(any(word.startswith(t) for word in words) for t in typed)

    return {choice[0] for choice in choices if typed and holds(choice)}
