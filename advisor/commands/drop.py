"""One load-test reading, judged without a case."""

from __future__ import annotations

import json
import math

from advisor.commands.own import checked_meter, own_meter
from advisor.commands.shared import print_out, print_text
from advisor.consultation.reading_words import per_cent_sure
from advisor.errors import ExitCode, UsageError
from advisor.model.machine import LARGEST_LOAD_AMPS, LARGEST_LOAD_OHMS

# What is more is a slip of the fingers; judgements, no source.
MOST_VOLTS, MOST_AMPS, MOST_SECTIONS = 100.0, 1000.0, 100


def drop(
    reference: float, loaded: float, sections: int, load_ohms: float | None, amps: float | None, mm2: str | None,
    metres: float | None, meter: str | None = None, *, as_json: bool,
) -> ExitCode:  # fmt: skip
    """Judges one load-test reading, with the meter named, or else the user's own."""
    from advisor.electrical.drop import Load, drop_report
    from advisor.electrical.meter import Meter, parse_meter
    from advisor.electrical.wire import parse_size

    if load_ohms is not None and amps is not None:
        raise UsageError("the load is given twice", "Give either --load-ohms or --amps.")
    _can_be(reference, loaded, sections, load_ohms, amps)
    by = checked_meter(meter) if meter else own_meter()
    try:
        load = Load(load_ohms, amps) if (load_ohms, amps) != (None, None) else None
        area = None if mm2 is None else parse_size(mm2)
        found = drop_report(
            reference, loaded, sections=sections, load=load, mm2=area, metres=metres, meter=parse_meter(by) if by else Meter()
        )
    except ValueError as error:
        raise UsageError(str(error), "Read the meter again; advisor drop --help shows what is wanted.") from None
    if as_json:
        print_out(json.dumps({"format": 1, **found.as_json()}, indent=2, sort_keys=True))
        return ExitCode.OK
    print_text(f"Drop      {found.drop_volts:.3f} V   (uncertainty {2 * found.standard_uncertainty:.3f} V, about 95 %)")
    if by:
        print_text(f"Meter     {parse_meter(by)}")
    print_text(f"Allowed   {found.limit_volts:.3f} V")
    if found.expected_volts is not None:
        print_text(f"Expected  {found.expected_volts:.3f} V   from the wire and its contacts")
    print_text(f"Verdict   {found.verdict}   ({per_cent_sure(found.probability_over)} chance that it is over)")
    if found.excess_ohms is not None:
        print_text(
            f"Too much  {_ohms(found.excess_ohms)} ohm   (between {found.excess_low:.3f} and {_ohms(found.excess_high)} ohm)"
        )
    if found.expected_volts is not None and found.expected_volts >= found.limit_volts and found.excess_low == 0:
        print_text("Mind      Good wire alone drops more than the limit with this load. Use a lighter load, or the maker's limit.")
    if found.amps is not None and found.amps > LARGEST_LOAD_AMPS:
        print_text(f"Mind      This load draws {found.amps:.0f} A: more than {LARGEST_LOAD_AMPS:.0f} A burns leads and fuses.")
    return ExitCode.OK


def _can_be(reference: float, loaded: float, sections: int, load_ohms: float | None, amps: float | None) -> None:
    """Refuses numbers that no meter here shows and no load has; what is no number at all is told by the arithmetic."""
    for name, value, most, unit in (
        ("reference", reference, MOST_VOLTS, "V"), ("loaded", loaded, MOST_VOLTS, "V"), ("sections", sections, MOST_SECTIONS, ""),
        ("load-ohms", load_ohms, LARGEST_LOAD_OHMS, "ohm"), ("amps", amps, MOST_AMPS, "A"),
    ):  # fmt: skip
        if value is not None and value > most:
            given, limit = (f"{v:g} {unit}".strip() for v in (value, most))
            raise UsageError(f"--{name} cannot be {given}", f"Give {limit} at most.")


def _ohms(value: float | None) -> str:
    return f"{value:.3f}" if value is not None and math.isfinite(value) else "no end of"
