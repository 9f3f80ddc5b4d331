"""Knowledge of how the machine stands that cannot be right is named with its file, line and column, and the layout."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import SMALL
from folders import changed, variant

from advisor.cli import run

SAFETY = (SMALL / "safety.yaml").read_text(encoding="utf-8")
STATES = (SMALL / "states.yaml").read_text(encoding="utf-8")
NOWHERE = """
  - id: turn-key-further
    title: Turn the key further
    from: {key: "on"}
    when: {stand: free, sensor: "off"}
    sets: {key: out}
    minutes: 1
    steps: [Turn it.]
"""
NEVER = """
- id: no-hands-with-the-sensor-off
  doing: {under: true}
  forbids: {sensor: "off"}
  because: Nothing here is done under the machine.
  source: common-practice
"""
UNGUARDED = changed(
    "states.yaml", 'when: {stand: blocked, key: out}\n    sets: {sensor: "off"}', 'when: {key: out}\n    sets: {sensor: "off"}'
)
LAYOUT = "(hinge, pressure let down by-release, with a plug between, one person"


def line_of(text: str, words: str) -> int:
    """The line of a text on which some words stand, counted from 1."""
    return text[: text.index(words)].count("\n") + 1


MISSPELT = changed("states.yaml", 'from: {sensor: "on"}', 'from: {senser: "on"}')
NO_VALUE = changed("states.yaml", 'sets: {sensor: "off"}', "sets: {sensor: of}")
WIGGLE = changed("checks/harness/wiggle-harness.yaml", 'needs: {key: "on"}', 'needs: {key: "on", sensor: "off", stand: free}')


@pytest.mark.parametrize(
    ("name", "text", "at", "said"),
    [
        ("states", MISSPELT, "{senser", ("'senser'", "did you mean 'sensor'?")),
        ("states", NO_VALUE, "sets: {sensor: of}", ("'of'", "did you mean 'off'?")),
        ("states", STATES + NOWHERE, "id: turn-key-further", ("starts from a state that nothing leads to (all 32 layouts)",)),
        ("safety", SAFETY + NEVER, "id: no-hands-with", ("forbids what nothing does and no state shows (all 32 layouts)",)),
        ("states", UNGUARDED, "id: take-sensor-off", ("'take-sensor-off' breaks 'hands-need-the-block'", LAYOUT)),
        ("checks__harness__wiggle_harness", WIGGLE, "id: wiggle-harness", ("needs a state that nothing leads to", LAYOUT)),
    ],
    ids=["variable", "value", "move-from-nowhere", "rule-nothing-breaks", "step-against-a-rule", "check-out-of-reach"],
)
def test_what_cannot_be_right_is_named_with_its_place(
    name: str, text: str, at: str, said: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line says where, what, and on which layout."""
    folder = variant(tmp_path, **{name: text})
    assert run(["knowledge", "check", "--knowledge", str(folder)]) == 1
    (line,) = [line for line in capsys.readouterr().out.splitlines() if all(words in line for words in said)][:1]
    assert line.split(" ")[0].startswith("knowledge/")
    assert f".yaml:{line_of(text, at)}:" in line.split(" ")[0]
