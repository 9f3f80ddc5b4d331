"""What a safety rule watches, and the states that it forbids on one machine."""

from __future__ import annotations

from advisor.model.states import ANY_PLUG, EVERY_PLUG, Doing, SafetyRule
from advisor.reasoning.standing import Frame, both
from advisor.reasoning.ways import Wanted


def matches(doing: Doing | None, danger: object, *, opens_plug: bool = False, connects_battery: bool = False) -> bool:
    """Whether a safety rule watches something that is done."""
    if doing is None:
        return True
    if doing.hands and getattr(danger, "hands", "none") in doing.hands:
        return True
    flags = ("steers", "pressure", "turns", "under", "loads", "cuts")
    if any(getattr(doing, f) and getattr(danger, f, False) for f in flags):
        return True
    return (doing.opens_plug and opens_plug) or (doing.connects_battery and connects_battery)


def forbidden(frame: Frame, rule: SafetyRule, place: str | None = None) -> tuple[Wanted, ...]:
    """The states that a rule forbids: any one of these holding is enough. A name for several plugs means any of them."""
    found: list[Wanted] = [()]
    for name, values in rule.forbids.items():
        variables = frame.variables(EVERY_PLUG if name == ANY_PLUG else name, place)
        if not variables:
            return ()
        found = [both(so_far, ((v, frame.bits(v, values)),)) for so_far in found for v in variables]
    return tuple(found)
