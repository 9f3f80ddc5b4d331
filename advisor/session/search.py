"""Finding an entry by what a person calls it: its number, its id, words of its title, misspelt or in another order."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.errors import InputError, short
from advisor.model.question import Question
from advisor.session.picking import like, pick
from advisor.session.room import Back, Room, Talk, ask, choices

MOST = 9  # entries offered at once
CLOSE = 72.0  # likeness from 0 to 100 from which an entry is offered; a judgement, no source
CLEAR = 92.0  # and from which the best is taken when no other comes near; what is taken is shown before it is done
AHEAD = 12.0


def found(text: str, entries: Mapping[str, str]) -> tuple[str, ...]:
    """The ids that a text can stand for, likeliest first; one alone is meant beyond doubt."""
    wanted = " ".join(text.lower().replace("-", " ").split())
    spoken = {name: f"{name.replace('-', ' ')} {title}".lower() for name, title in entries.items()}
    exact = [n for n, title in entries.items() if wanted in (n.replace("-", " "), title.lower())]
    if exact:
        return tuple(exact[:1])
    typed = wanted.split()
    holding = [n for n, words in spoken.items() if typed and all(any(w.startswith(t) for w in words.split()) for t in typed)]
    if holding:
        return tuple(holding[:MOST])
    return _alike(wanted, entries)


def _alike(wanted: str, entries: Mapping[str, str]) -> tuple[str, ...]:
    """The ids whose id or title is nearest in spelling."""
    from rapidfuzz import fuzz

    def likeness(name: str, title: str) -> float:
        return max(fuzz.token_sort_ratio(wanted, name.replace("-", " ")), fuzz.token_set_ratio(wanted, title.lower()))

    scored = sorted(((likeness(n, title), n) for n, title in entries.items()), reverse=True)
    close = [(score, n) for score, n in scored if score >= CLOSE][:MOST]
    if close and close[0][0] >= CLEAR and (len(close) == 1 or close[0][0] - close[1][0] >= AHEAD):
        return (close[0][1],)
    return tuple(n for _, n in close)


LISTED = "Type a word of its title, or the word alone for the list."


def choose(room: Room, text: str, entries: Mapping[str, str], kind: str, hint: str = LISTED) -> Talk[str]:
    """The id that is meant; where more than one can be, they are offered by number. Raises InputError, and Back."""
    names = found(text, entries) if text else tuple(entries)
    near = () if names else like(text, tuple(entries.items()))
    if near:
        return (yield from offer(room, {n: entries[n] for n in near}, f"Which {kind}?"))
    if not names:
        raise InputError(f"'{short(text)}' is no {kind}", hint)
    if len(names) == 1 and text:
        return names[0]
    return (yield from offer(room, {n: entries[n] for n in names}, f"Which {kind}?"))


def offer(room: Room, entries: Mapping[str, str], text: str) -> Talk[str]:
    """One of several by number. Enter alone, or back, chooses none: raises Back."""
    pairs = tuple(entries.items())
    room.say(f"{text} Type its number. Enter alone: none of them.", strong=True, hang=2)
    room.options(pairs)
    question = Question(
        kind="which", text=text, prompt="which", choices=choices(pairs), optional=True, example="1",
        why="What you typed can mean more than one.",
    )  # fmt: skip
    chosen = yield from ask(room, question, lambda typed: pick(typed, pairs) if typed else None)
    if chosen is None:
        raise Back
    return chosen
