"""Whatever is typed, the words on the screen never lead a hand into a machine that can move.

The moves are read off the screen by their titles, as a technician does them, and followed by a list of this file's own. The
program's model of moves and rules takes no part in the judgement.
"""

from __future__ import annotations

import io
import random
import re
from dataclasses import dataclass, field

import pytest
from folders import real_knowledge
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from advisor.errors import EndOfInput
from advisor.model.case import Case, Event, Opened
from advisor.model.question import Question
from advisor.session.session import Session
from advisor.terminal.client import play
from advisor.terminal.environment import Terminal

K = real_knowledge()
REPLIES = 24
WORDS = ("back", "skip", "why", "other", "more", "cautions", "show", "stands")

# What a move does to the machine in the yard, by its title on the screen.
DOES = {
    "Park the machine": {"stand": "parked"},
    "Stop the engine": {"engine": "off"},
    "Start the engine": {"engine": "running"},
    "Take the key out": {"key": "out"},
    "Turn the key on": {"key": "on"},
    "Lower, brake and chock the machine": {"stand": "blocked"},
    "Take the chocks away": {"stand": "parked"},
    "Drive to the test ground": {"stand": "driving"},
    "Block the steered wheels against turning": {"wheels": "blocked"},
    "Free the steered wheels": {"wheels": "ground"},
    "Lift the steered axle onto stands": {"wheels": "stands"},
    "Lower the axle from the stands": {"wheels": "ground"},
    "Fit the articulation lock": {"hinge": "locked"},
    "Take the articulation lock out": {"hinge": "free"},
    "Disconnect the battery": {"battery": "off"},
    "Connect the battery": {"battery": "on"},
    "Take the sensor off its mounting": {"sensor": "off"},
    "Fit the sensor at its marks": {"sensor": "on"},
    "Take the load and meter leads off": {"leads": "off"},
}
PLUGS = {"Open the plug": "apart", "Close the plug": "home", "Fit the breakout lead": "lead", "Take the breakout lead out": "home"}
# Moves for which hands go in where the machine can crush them.
AT_THE_DRIVE = ("Take the sensor off its mounting", "Fit the sensor at its marks", "Take the cover over the sensor off")
TITLES = {m.title for m in K.moves.values()}


def moves_in(rest: str) -> list[str]:
    """The moves of one line: named one after the other, or told in one paragraph, in which a step of each begins with its title."""
    if not rest.startswith("(a) "):
        return [rest] if ": (a) " in rest else rest.split("; ")
    steps = re.split(r"(?:^| )\([a-z]\) (?!again)", rest)[1:]
    found = [s for s in steps if any(s.lower().startswith(t.lower()) for t in TITLES)]
    assert found, rest
    return found


def moved(told: str) -> tuple[str, str | None]:
    """The move in a line of the screen, and the plug it is done at."""
    title = max((t for t in TITLES if told.lower().startswith(t.lower())), key=len)
    at = re.match(r" \(([^)]*)\)", told[len(title) :])
    return title, at[1] if at and at[1] != "more tells how" else None


@dataclass
class Yard:
    """The machine as the technician finds it after the words on the screen."""

    now: dict[str, str]
    faults: list[str] = field(default_factory=list)

    def must(self, what: str, **wanted: str) -> None:
        """Writes down what is not as it must be; a part that this machine lacks is no fault."""
        for name, values in wanted.items():
            if self.now.get(name, values.split("|")[0]) not in values.split("|"):
                self.faults.append(f"{what}: {name} is {self.now[name]}")

    def apart(self) -> bool:
        return any(v == "apart" for n, v in self.now.items() if n.startswith("plug:"))

    def hands_in(self, what: str) -> None:
        """What must be so before hands go to the hinge, the linkage or the sensor drive."""
        self.must(what, engine="off", key="out", stand="blocked", hinge="locked", wheels="blocked|stands")

    def move(self, title: str, point: str | None) -> None:
        """Does what the screen says, and looks whether it may be done now."""
        if title in AT_THE_DRIVE:
            self.hands_in(title)
        if title in PLUGS:
            self.must(title, key="out", engine="off")
            self.now[f"plug:{point}"] = PLUGS[title]
        if title == "Connect the battery" and self.apart():
            self.faults.append(f"{title}: a plug is apart")
        if title in ("Start the engine", "Drive to the test ground"):
            self.must(title, sensor="on", hinge="free" if title.startswith("Drive") else "free|locked")
            if self.apart():
                self.faults.append(f"{title}: a plug is apart")
        if title == "Turn the key on":
            self.must(title, leads="off", battery="on")
        if title.startswith("Steer "):
            self.must(title, hinge="free", wheels="ground|stands", sensor="on")
        if title == "Fit the articulation lock":
            self.must(title, engine="off", key="out")
        self.now |= DOES.get(title, {})


@dataclass
class Reader:
    """Reads each screen as it comes, follows it in the yard, and types something."""

    output: io.StringIO
    chance: random.Random
    left: int = REPLIES
    seen: int = 0
    yards: list[Yard] = field(default_factory=list)

    def answer(self, prompt: Question) -> str:
        screen = self.output.getvalue()[self.seen :]
        self.seen = len(self.output.getvalue())
        if prompt.step is not None:
            self._follow(prompt, screen)
        self.left -= 1
        if self.left < 0:
            raise EndOfInput
        if prompt.kind == "step" and self.chance.random() < 0.15:
            return self.chance.choice(WORDS)
        if prompt.kind == "step" and self.chance.random() < 0.25:
            checks = [c.id for c in K.checks.values() if c.stage != "ask"]
            return (
                f"other {self.chance.choice(checks)}"
                if self.chance.random() < 0.6
                else f"repair {self.chance.choice(list(K.causes))}"
            )
        if prompt.choices:
            return str(self.chance.randrange(len(prompt.choices)) + 1)
        return self.chance.choice([prompt.example.split(" or ")[0] or "1", "1", "yes", "done", "0.5 4.5", "12.3"])

    def _follow(self, prompt: Question, screen: str) -> None:
        """The way on this screen, then what is done at its end."""
        assert prompt.step is not None
        yard = Yard(dict(prompt.stands))
        for when, rest in re.findall(r"^(First|Then)(?:, as before)?: (.+)$", screen, re.M):
            for told in moves_in(rest) if when == "First" else ():
                yard.move(*moved(told))
        entry = K.checks.get(prompt.step.id) if prompt.step.kind != "repair" else K.causes[prompt.step.id].repair
        if entry is not None and re.search(r"^-- (Next|Repair|Retest) ", screen, re.M):
            if entry.hands in ("hinge", "drive"):
                yard.hands_in(prompt.step.title)
            if entry.steers:
                yard.must(prompt.step.title, hinge="free", wheels="ground|stands", sensor="on")
            if entry.loads:
                yard.must(prompt.step.title, battery="off")
            if entry.pressure:
                yard.must(prompt.step.title, engine="off", key="out")
        self.yards.append(yard)


def faults(seed: int, steering: str, complaint: str) -> tuple[list[str], int]:
    """What was wrong on any screen of one random talk, and how many screens were followed."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO(), width=3000, blocks=False)
    first = Opened(complaint=complaint, intake={"steering": (steering,)}, occurrences=6, hours=14)
    events: list[Event] = [first]
    reader = Reader(output, random.Random(seed))
    play(terminal, reader, Session.going_on(K, Case((first,)), lambda *new: events.extend(new)))
    return [f for yard in reader.yards for f in yard.faults], len(reader.yards)


@given(
    seed=st.integers(0, 10**6),
    steering=st.sampled_from(["hinge", "front-wheels", "hinge-and-wheels", "tracks-or-skid"]),
    complaint=st.sampled_from(sorted(K.complaints)),
)
@settings(max_examples=15, deadline=None, phases=[Phase.explicit, Phase.generate], suppress_health_check=[HealthCheck.too_slow])
def test_no_screen_leads_a_hand_into_a_machine_that_can_move(seed: int, steering: str, complaint: str) -> None:
    """Random answers, words, other checks and early repairs, on each kind of machine."""
    found, screens = faults(seed, steering, complaint)
    assert found == []
    assert screens > 0


@pytest.mark.parametrize(
    ("title", "stands", "fault"),
    [
        ("Take the sensor off its mounting", {"hinge": "free", "key": "out", "engine": "off", "stand": "blocked"}, "hinge is free"),
        ("Connect the battery", {"plug:sensor": "apart"}, "a plug is apart"),
        ("Steer to full left", {"hinge": "locked"}, "hinge is locked"),
        ("Open the plug", {"key": "on"}, "key is on"),
        ("Start the engine", {"sensor": "off"}, "sensor is off"),
    ],
)
def test_the_reader_of_the_screens_sees_a_dangerous_one(title: str, stands: dict[str, str], fault: str) -> None:
    """So that finding nothing means something."""
    yard = Yard(dict(stands))
    yard.move(title, "sensor")
    assert yard.faults == [f"{title}: {fault}"]
