"""How a machine can stand and what changes it: variables with values, moves between them, and what must never hold together."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from advisor.model.entry import Entry, Id, Minutes, Text, as_list, one_or_list

Hands = Literal["hinge", "drive", "plug", "wiring", "none"]
Allowed = Annotated[tuple[Id, ...], BeforeValidator(as_list), one_or_list("string")]  # one value, or a list of which one is enough
Needs = dict[Id, Allowed]  # a variable, and the values that will do
Where = Literal["first", "between", "last"]  # a plug at the controller, between the ends, at the sensor

# Names in `needs` that stand for the plugs of the layout a step is done on.
PLUG, SENSOR_PLUG, CONTROLLER_PLUG = "plug", "sensor-plug", "controller-plug"
BETWEEN_PLUGS, END_PLUGS, EVERY_PLUG, ANY_PLUG = "between-plugs", "end-plugs", "every-plug", "any-plug"
PLUGS = (PLUG, SENSOR_PLUG, CONTROLLER_PLUG, BETWEEN_PLUGS, END_PLUGS, EVERY_PLUG, ANY_PLUG)


class Value(Entry):
    """One way in which a variable can be."""

    id: Id
    says: Text
    cautions: tuple[Id, ...] = Field(default=(), description="Cautions that hold as long as it is so.")


class Variable(Entry):
    """One thing about how the machine stands."""

    id: Id
    title: Text
    values: tuple[Value, ...] = Field(min_length=2)
    work: Id = Field(description="How it is before the first step and after the last.")
    each: Literal["point", "run"] | None = Field(
        default=None, description="point: one such variable for each plug of the layout. run: one value for each run between plugs."
    )
    needs_feature: dict[Id, Allowed] = Field(default={}, description="Answers of the machine with which it exists.")


class Danger(Entry):
    """What is dangerous about something that is done; the same for checks, repairs and moves."""

    hands: Hands = Field(default="none", description="Where hands are: hinge, drive of the sensor, plug, wiring or none.")
    steers: bool = Field(default=False, description="Somebody steers.")
    pressure: bool = Field(default=False, description="A hydraulic line is opened.")
    turns: bool = Field(default=False, description="It is done beside turning parts.")
    under: bool = Field(default=False, description="Somebody is under the axle or a raised part.")
    loads: bool = Field(default=False, description="A load is put on a circuit.")
    cuts: bool = Field(default=False, description="Wire is cut, crimped or soldered.")

    @property
    def hurts(self) -> bool:
        """Whether a slip in it can hurt somebody at once. Such work is told step by step each time."""
        return self.hands in ("hinge", "drive") or self.steers or self.pressure or self.turns or self.under


class Move(Danger):
    """What brings the machine from one state into another."""

    id: Id
    title: Text
    from_: Needs = Field(alias="from", min_length=1, description="What it changes, and from which values.")
    when: Needs = Field(default={}, description="What else must hold.")
    sets: dict[Id, Id] = Field(min_length=1, description="How it is afterwards.")
    plug: tuple[Where, ...] = Field(default=(), description="It is done at one plug: at the first, the last, or those between.")
    run: bool = Field(default=False, description="It is done at the two ends of one run between plugs.")
    minutes: Minutes
    steps: tuple[Text, ...] = Field(min_length=1)
    cautions: tuple[Id, ...] = ()
    tools: tuple[Id, ...] = ()
    disturbs: tuple[Id, ...] = Field(default=(), description="Checks whose answer is worth less afterwards.")
    second_person: bool = False
    needs_feature: dict[Id, Allowed] = Field(default={}, description="Answers of the machine with which it can be done.")
    source: Id | None = Field(default=None, description="Source of the figures in its steps; without figures none is needed.")


class States(Entry):
    """The file states.yaml."""

    variables: tuple[Variable, ...]
    moves: tuple[Move, ...]


class Doing(Entry):
    """What a safety rule watches: anything done that has one of these."""

    hands: tuple[Hands, ...] = ()
    steers: bool = False
    pressure: bool = False
    turns: bool = False
    under: bool = False
    loads: bool = False
    cuts: bool = False
    opens_plug: bool = False
    connects_battery: bool = False

    @model_validator(mode="after")
    def _something(self) -> Doing:
        if not any(self.model_dump().values()):
            raise ValueError("say what is done: hands, steers, pressure, turns, under, loads, cuts, opens_plug, connects_battery")
        return self


class SafetyRule(Entry):
    """What must never be true at the same time, with the reason."""

    id: Id
    doing: Doing | None = Field(default=None, description="What is done; without it the rule is about the state alone.")
    at: Annotated[tuple[Where, ...], BeforeValidator(as_list), one_or_list("string")] = Field(
        default=(), description="Only at such plugs."
    )
    forbids: Needs = Field(min_length=1, description="How the machine must not stand then; all of it at once.")
    caution: Id | None = Field(default=None, description="What is shown before such a step.")
    because: Text
    source: Id
