"""What a two-wire ohmmeter shows of a wire, and what it cannot. Volts, amperes, ohms."""

from __future__ import annotations

LEADS_OHMS = 0.2  # leads and contacts of a usual meter, which come and go by about as much; common practice, no source


def ohmmeter_sentence(ohms: float, broken: bool, limit_volts: float, amps: float) -> str:
    """What one reading says of the wire, beside the ohms at which a section fails the load test.

    `limit_volts` is allowed over a section at `amps`, the load test's own current.
    """
    if broken:
        return f"{ohms:g} ohm is a break, or a joint as good as open: halve the run at its plugs to find where."
    allowed = limit_volts / amps
    return (
        f"{ohms:g} ohm shows that the wire is not broken, and no more. At the {amps:.1f} A of the load test a section may have "
        f"{allowed:.3f} ohm; leads and contacts of an ohmmeter alone are about {LEADS_OHMS:g} ohm and never the same twice, and "
        "its few milliamperes pass through a single strand. Go on to the load test."
    )
