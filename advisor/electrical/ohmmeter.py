"""What a two-wire ohmmeter shows of a wire, and what it cannot. Volts, amperes, ohms."""

from __future__ import annotations

LEADS_OHMS = 0.2  # leads and contacts of a usual meter, which come and go by about as much; common practice, no source


def ohmmeter_sentence(ohms: float, broken: bool, limit_volts: float, amps: float) -> str:
    """What one reading says of the wire, beside the ohms at which a section fails the load test.

    `limit_volts` is allowed over a section at `amps`, the load test's own current.
    """
    if broken:
        return f"{ohms:g} ohm is a break in the wire or an open joint. Open the plug in the middle and measure each half."
    allowed = limit_volts / amps
    return (
        f"{ohms:g} ohm shows only that the wire is not broken. At the {amps:.1f} A of the load test a section may have "
        f"{allowed:.3f} ohm. Leads and contacts of an ohmmeter alone have about {LEADS_OHMS:g} ohm, never the same twice. "
        "Its small current passes through a single strand. Go on to the load test."
    )
