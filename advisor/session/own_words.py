"""Free text at a question: what is too little to tell anybody anything, and what says that there is nothing."""

from __future__ import annotations

from advisor.errors import InputError, short

NOTHING = ("no", "n", "none", "nothing", "nil", "n/a", "-", "--", "0")
_SAYS_YES = ("yes", "y", "ok", "okay", "done", "true")
_AT_A_STEP = (
    "close",
    "correct",
    "have",
    "layout",
    "machine",
    "missing",
    "more",
    "other",
    "repair",
    "retest",
    "run",
    "show",
    "stands",
)
FEWEST = 2  # letters and figures of a word that tells something; a judgement, no source
FEWEST_FIGURES = 3  # and of a number alone, such as that of a part


def own_words(text: str, asked: str) -> str:
    """The words as typed; empty where they say that there is nothing. `asked` ends the sentence "it does not say ...".

    Raises InputError for a slip of the finger, a plain yes, or a word of the step typed at the wrong place.
    """
    word = text.lower().rstrip(".!")
    if word in NOTHING:
        return ""
    if word in _AT_A_STEP:
        raise InputError(f"'{word}' is a word of the step, and here a question is open", "Answer it, or type back to leave it.")
    told = [c for c in text if c.isalnum()]
    if text and (word in _SAYS_YES or len(told) < (FEWEST_FIGURES if text.isdigit() else FEWEST)):
        raise InputError(f"'{short(text)}' does not say {asked}", "Type a few words, or Enter alone.")
    return text
