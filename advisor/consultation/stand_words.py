"""How the machine stands, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.model.knowledge import Knowledge
from advisor.model.states import PLUG, PLUGS, Doing

DOES = {
    "steers": "somebody steers", "pressure": "a hydraulic line is opened", "turns": "parts turn beside the hands",
    "under": "somebody is under the axle", "loads": "a load is put on a circuit", "cuts": "wire is cut, crimped or soldered",
    "opens_plug": "a plug is opened or closed", "connects_battery": "the battery is connected",
}  # fmt: skip
AT = {"first": "at the controller", "between": "between the ends", "last": "at the sensor"}


def needs(knowledge: Knowledge, wanted: Mapping[str, Sequence[str]]) -> str:
    """How the machine must stand, in words."""
    said = []
    for name, values in wanted.items():
        variable = PLUG if name in PLUGS else name
        entry = knowledge.variables[variable]
        words = [v.says for v in entry.values if v.id in values]
        where = f"{name.replace('-', ' ')}: " if variable == PLUG else ""
        said.append(where + " or ".join(w[:1].lower() + w[1:] for w in words))
    return "; ".join(said)


def doing_words(doing: Doing | None, at: Sequence[str] = ()) -> str:
    """What a safety rule watches: "hands are at the hinge or drive, between the ends or at the sensor"."""
    if doing is None:
        return "whatever is done"
    said = [f"hands are at the {' or '.join(doing.hands)}"] if doing.hands else []
    said += [words for name, words in DOES.items() if getattr(doing, name)]
    return " or ".join(said) + (", " + " or ".join(AT[where] for where in at) if at else "")
