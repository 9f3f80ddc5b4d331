"""What an ohmmeter on a wire is told that it cannot show."""

from __future__ import annotations

from advisor.electrical.ohmmeter import LEADS_OHMS, ohmmeter_sentence


def test_a_pass_is_told_what_a_section_may_have_under_load() -> None:
    """0.2 V at 2.4 A are 0.083 ohm, less than the meter's own leads."""
    said = ohmmeter_sentence(0.3, broken=False, limit_volts=0.2, amps=2.4)
    assert "0.083 ohm" in said
    assert LEADS_OHMS > 0.2 / 2.4
    assert "Go on to the load test" in said


def test_a_break_is_called_one() -> None:
    """It is to be found by halving."""
    said = ohmmeter_sentence(20000, broken=True, limit_volts=0.2, amps=2.4)
    assert "break" in said
    assert "measure each half" in said
