"""Each lint finds its own fault and nothing in knowledge that is sound."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import SMALL
from folders import real_knowledge, variant

from advisor.library.lints import LINTS, run_lints
from advisor.library.lints.chance_words import guesses_in_observations, words_against_the_evidence, words_against_the_rule
from advisor.library.lints.deeds import deeds_without_their_flag
from advisor.library.lints.figures import figures_without_a_source, one_system_of_wire_sizes, sources_nobody_names
from advisor.library.lints.glossary import words_nobody_meets, words_told_twice
from advisor.library.lints.lint import Lint
from advisor.library.lints.physics import checks_that_contradict, families_of_one
from advisor.library.lints.reach import (
    causes_no_check_can_raise,
    cautions_nobody_is_shown,
    complaints_without_causes,
    holds_that_never_end,
    unused_ids,
)
from advisor.library.lints.repairs import (
    proofs_that_prove_nothing,
    recalibrations_left_open,
    retests_at_another_place,
    retests_that_pass_with_the_fault,
    retests_that_show_nothing,
)
from advisor.library.lints.separate import checks_that_separate_nothing, exceptions_out_of_date, pairs_nobody_separates
from advisor.library.lints.shares import shares_that_cannot_be_read
from advisor.library.lints.times import minutes_short_of_the_parts
from advisor.library.lints.wording import (
    hard_questions,
    hard_texts,
    questions_that_are_none,
    questions_too_long,
    sentences_long_on_average,
    steps_too_long,
)
from advisor.library.parser import load

SWEEP = "checks/sensor/output-sweep.yaml"
DRAG = "checks/connector/terminal-drag.yaml"
WIGGLE = "checks/harness/wiggle-harness.yaml"
HYDRAULICS = "causes/hydraulics.yaml"
EXCEPTIONS = "pairs-not-separated.yaml"
LEAK = "steering-valve-leak"

# What the small knowledge lacks to be sound as a whole: file, old text, new text.
MADE_SOUND = [
    ("sources.yaml", "- {id: from-memory, title: From memory, kind: memory}\n", ""),
    ("tools.yaml", "10 megohm input}", "10 megohm input, source: common-practice}"),
    ("words.yaml", "source: icd-203\n", "source: icd-203\nplanning_source: common-practice\n"),
    (SWEEP, "Steer slowly from end", "Sweep slowly from end"),
    (
        "causes/harness.yaml",
        "Cut the old splice out., Crimp a new one and pull it., Shrink the sleeve until",
        "Mend it. The sleeve is warm when",
    ),
    ("causes/connector.yaml", "Crimp a new terminal.", "Press a new terminal."),
    (WIGGLE, "family: harness-moved\n", ""),
    ("checks/hydraulics/drift-engine-off.yaml", "family: frame-creep\n", ""),
    (WIGGLE, "poor-terminal-contact: {jumps-at-one-spot: likely}", "poor-terminal-contact: {jumps-at-one-spot: unlikely}"),
    ("rules/small.yaml", "{answer: supply-at-sensor-loaded, is: normal}}", "{answer: supply-at-sensor-loaded}}"),
]

EXCEPTION = "- {id: crimp-or-chafe, causes: [high-resistance-splice, chafe-to-ground], reason: One repair cures both.}\n"

# The lint, the file changed, what is changed in it, and what is then said.
PLANTED: list[tuple[Lint, str, str, str, str]] = [
    (
        causes_no_check_can_raise,
        WIGGLE,
        "poor-terminal-contact: {jumps-at-one-spot: unlikely}",
        "poor-terminal-contact: {jumps-at-one-spot: likely}",
        "unreachable-cause: under 'reads-low' no check can raise 'chafe-to-ground'",
    ),
    (
        exceptions_out_of_date,
        EXCEPTIONS,
        "",
        EXCEPTION,
        "stale-exception: 'crimp-or-chafe' is not needed: 'open-splice-and-pull' parts the two by 13.6 dB",
    ),
    (
        exceptions_out_of_date,
        EXCEPTIONS,
        "",
        EXCEPTION.replace("chafe-to-ground", "high-resistance-splice"),
        "stale-exception: 'crimp-or-chafe' does not name two causes of one complaint",
    ),
    (
        checks_that_separate_nothing,
        "checks/hydraulics/drift-engine-off.yaml",
        "{stops: very-likely}",
        "{stops: almost-no-chance}",
        "idle-check: 'drift-engine-off' parts no two causes of one complaint by 6 dB",
    ),
    (
        proofs_that_prove_nothing,
        SWEEP,
        "otherwise: {jumps: very-unlikely}",
        "otherwise: {jumps: unlikely}",
        "weak-proof: no proof of 'sensor-internal' is likely for it and unlikely otherwise",
    ),
    (
        proofs_that_prove_nothing,
        DRAG,
        "poor-terminal-contact: {loose: very-likely}",
        "poor-terminal-contact: {loose: unlikely}",
        "weak-proof: no proof of 'poor-terminal-contact' is likely for it and unlikely otherwise",
    ),
    (
        retests_that_show_nothing,
        "causes/sensor-drive.yaml",
        "[coupling-grip, watch-wheel-against-reading]",
        "watch-wheel-against-reading",
        "idle-retest: no retest of 'sensor-coupling-loose' shows that the cause is still there",
    ),
    (
        retests_that_pass_with_the_fault,
        "causes/sensor-drive.yaml",
        "[coupling-grip, watch-wheel-against-reading]",
        "output-sweep",
        "passing-retest: with 'sensor-coupling-loose' still there its retests all pass in 68% of tries",
    ),
    (
        retests_at_another_place,
        "causes/sensor-drive.yaml",
        "[coupling-grip, watch-wheel-against-reading]",
        "[coupling-grip, terminal-drag]",
        "retest-place: the retest 'terminal-drag' of 'sensor-coupling-loose' is done at a terminal, and the cause sits at no place",
    ),
    (
        checks_that_contradict,
        "same-physics.yaml",
        "",
        f"- {{id: same, sees: A thing., checks: {{coupling-grip: slips, drift-engine-off: stops}}, differs: {{{LEAK}: Oil.}}}}\n",
        "same-physics: 'same': 'sensor-coupling-loose' is likely in 'coupling-grip' and unlikely in 'drift-engine-off'; "
        "correct one, or say why under differs",
    ),
    (
        checks_that_contradict,
        "same-physics.yaml",
        "",
        "- {id: same, sees: A thing., checks: {coupling-grip: slips, drift-engine-off: stops}, "
        f"differs: {{{LEAK}: Oil., sensor-coupling-loose: No oil., sensor-internal: Made up.}}}}\n",
        "same-physics: 'same' gives a reason for 'sensor-internal', and its checks agree on it",
    ),
    (
        families_of_one,
        "checks/sensor-drive/coupling-grip.yaml",
        "lasts: true",
        "lasts: true\nfamily: grip",
        "lone-family: 'coupling-grip' alone is of the family 'grip'",
    ),
    (
        one_system_of_wire_sizes,
        SWEEP,
        "Fit the breakout lead.",
        "Fit the breakout lead of 1.5 mm2.",
        "one-wire-system: the check 'output-sweep' gives a wire size in mm2 and not in AWG",
    ),
    *(
        (
            recalibrations_left_open,
            HYDRAULICS,
            "recalibrate: none",
            f'recalibrate: "{said}"',
            f"recalibration: 'steering-valve-leak' says recalibrate '{said}': name what is taught again, or write 'none'",
        )
        for said in ("None", "not needed", "n/a", "Nothing to do", "Sensor", "-", "?")
    ),
    (
        complaints_without_causes,
        "complaints.yaml",
        "",
        "- {id: hunting, title: It hunts, asks: It hunts., first: Watch it.}\n",
        "thin-complaint: 'hunting' has 0 causes",
    ),
    (
        unused_ids,
        "tools.yaml",
        "",
        "- {id: spare-tool, title: Spare tool}\n",
        "unused-id: the tool 'spare-tool' is used by no check, repair or move",
    ),
    (
        unused_ids,
        "states.yaml",
        "variables:\n",
        "variables:\n  - {id: lamp, title: Lamp, work: dark, values: [{id: dark, says: Lamp dark}, {id: lit, says: Lamp lit}]}\n",
        "unused-id: the variable 'lamp' is used by no check, repair or move",
    ),
    (
        cautions_nobody_is_shown,
        "cautions.yaml",
        "",
        "- {id: spare-caution, says: Mind., why: It hurts., source: common-practice}\n",
        "caution-not-shown: no check, repair, move, state, tool or safety rule shows the caution 'spare-caution'",
    ),
    *(
        (
            deeds_without_their_flag,
            SWEEP,
            "steps: [Fit the breakout lead.",
            f"steps: [Fit the breakout lead., {step}",
            f"deed-not-told: a step of 'output-sweep' {deed}, and its part lacks {lacks}: {step}",
        )
        for step, deed, lacks in (
            ("Then steer to one end.", "steers", "steers: true"),
            ("Start the engine.", "starts the engine", "needs: {engine: running}"),
            ("Key out. Unplug the sensor.", "opens a plug", "hands, or a plug apart in needs"),
            ("Shrink the sleeve.", "shrinks a sleeve", "one of the tools heat-gun, adhesive-sleeve-kit"),
            ("Loosen the first fitting.", "opens an oil line", "pressure: true"),
            ("Jack up the axle.", "lifts the machine", "under: true, or wheels on stands"),
            ("Warm the plug.", "heats a part", "the tool heat-gun, or the caution heat-gun-limits"),
            ("Cut back the wire.", "cuts or crimps wire", "cuts: true"),
            ("Then crimp the new one.", "cuts or crimps wire", "cuts: true"),
        )
    ),
    (
        minutes_short_of_the_parts,
        SWEEP,
        "steps: [Fit the breakout lead.",
        "steps: [Wait ten minutes., Let it run for 2 minutes.",
        "short-minutes: 'output-sweep' takes 11 min; its 4 steps and their waits take 12.8 min",
    ),
    (
        words_nobody_meets,
        "glossary.yaml",
        "",
        "- {id: flux-gate, says: It finds iron.}\n",
        "unused-word: no text of the knowledge uses the word 'flux-gate' of the glossary",
    ),
    (
        words_told_twice,
        "glossary.yaml",
        "",
        "- {id: pin, says: It sticks out., also: [Wire end]}\n- {id: wire, says: It carries current., also: [wire end]}\n",
        "word-twice: the word 'wire end' leads to 'pin' and to 'wire'",
    ),
    (
        questions_too_long,
        SWEEP,
        "in a slow sweep from end to end?",
        "in a slow sweep from end to end, first to the left and then to the right?",
        "long-question: the question of 'output-sweep' has 97 characters; 90 is the most",
    ),
    (
        sentences_long_on_average,
        "cautions.yaml",
        "Hands and feet clear of joints and hinge while the engine runs.",
        '"Hands and feet clear of joints and hinge, wheels, rods, pins and hoses, from the start of the engine until it stands and '
        'nobody is at the wheel."',
        "long-sentences: the sentences of 'hands-clear' have 17.0 words on average; 16 is the most",
    ),
    (
        questions_that_are_none,
        SWEEP,
        "from end to end?",
        "from end to end.",
        "question: the question of 'output-sweep' must ask one thing and end with a question mark",
    ),
    (
        questions_that_are_none,
        SWEEP,
        "from end to end?",
        "from end to end? And back?",
        "question: the question of 'output-sweep' must ask one thing and end with a question mark",
    ),
    (
        questions_that_are_none,
        "intake.yaml",
        "Is the fault worse hot or cold?",
        "Is the fault worse hot and when did it begin?",
        "question: the question of 'temperature' must ask one thing and end with a question mark",
    ),
    (
        hard_questions,
        SWEEP,
        "What does the output do in a slow sweep from end to end?",
        "Which potentiometer discontinuities does oscilloscope examination demonstrate?",
        "hard-to-read: the question of 'output-sweep' is of grade 29.8; 10 is the most",
    ),
    (
        hard_texts,
        "rules/small.yaml",
        "A poor crimp rises in resistance as it warms and recovers when it cools.",
        "Insufficient compression increases resistance disproportionately.",
        "hard-to-read: the texts of 'hot-means-joint' are of grade 15.9; 10 is the most",
    ),
    (
        hard_texts,
        "causes/connector.yaml",
        "and the contact changes with every shake.",
        "and the contact" + " so" * 20 + " changes with every shake.",
        "hard-to-read: a sentence of 'poor-terminal-contact' has 36 words; 30 is the most: "
        "A spread terminal touches its pin at few spots, and the contact" + " so" * 20 + " changes with every shake.",
    ),
    (
        steps_too_long,
        SWEEP,
        "Sweep slowly from end to end.",
        "Sweep slowly." + " Then slowly." * 22,
        "long-step: a step of 'output-sweep' has 299 characters; 220 is the most: Sweep slowly. Then slowly. Then slowly. ...",
    ),
    (
        steps_too_long,
        HYDRAULICS,
        "Bleed the circuit.",
        "Bleed it." + " And more." * 22,
        "long-step: a step of 'steering-valve-leak' has 229 characters; 220 is the most: "
        "Bleed it. And more. And more. And more. ...",
    ),
    (
        steps_too_long,
        "states.yaml",
        "Chock the wheels.",
        "Chock it." + " And more." * 22,
        "long-step: a step of 'block-machine' has 229 characters; 220 is the most: Chock it. And more. And more. And more. ...",
    ),
    (
        sources_nobody_names,
        "sources.yaml",
        "",
        "- {id: cfr-0, title: Unread}\n",
        "unused-id: the source 'cfr-0' is named by no entry",
    ),
    (
        figures_without_a_source,
        "states.yaml",
        "Chock the wheels.",
        "Chock 2 wheels.",
        "no-source: the move 'block-machine' gives a figure without a source: Chock 2 wheels.",
    ),
    (
        figures_without_a_source,
        "states.yaml",
        "Machine free to roll and to fold",
        "Machine on 4 wheels",
        "no-source: the variable 'stand' gives a figure without a source: Machine on 4 wheels",
    ),
    (
        holds_that_never_end,
        "rules/small.yaml",
        "- {not: {answer: supply-at-sensor-loaded}}",
        "- {not: {answer: supply-at-sensor-loaded, is: normal}}",
        "endless-hold: the hold of 'supply-before-sensor' ends only by supply-at-sensor-loaded = normal, and that may never come",
    ),
    (
        holds_that_never_end,
        "rules/small.yaml",
        "    - {not: {answer: supply-at-sensor-loaded}}\n",
        "",
        "endless-hold: the hold of 'supply-before-sensor' waits for nothing that can be done",
    ),
    (
        figures_without_a_source,
        "tools.yaml",
        "title: Small torque wrench",
        "title: Torque wrench to 25 Nm",
        "no-source: the tool 'torque-wrench' gives a figure without a source: Torque wrench to 25 Nm",
    ),
    (
        figures_without_a_source,
        "complaints.yaml",
        "Read the position with the steering straight ahead.",
        "Wait 5 minutes.",
        "no-source: the complaint 'reads-low' gives a figure without a source: Wait 5 minutes.",
    ),
    (
        figures_without_a_source,
        "words.yaml",
        "planning_source: common-practice\n",
        "",
        "no-source: words.yaml names no 'planning_source' for its weights and for the minutes of the folder",
    ),
    (
        words_against_the_evidence,
        DRAG,
        "Shows a spread terminal directly.",
        "A spread terminal always falls out.",
        "chance-word: the purpose of 'terminal-drag' says 'always', and no word of its evidence does",
    ),
    (
        words_against_the_evidence,
        SWEEP,
        "Shows dead spots with the circuit whole.",
        "A sound sensor never jumps.",
        "chance-word: the purpose of 'output-sweep' says 'never', and no word of its evidence does",
    ),
    (
        words_against_the_evidence,
        "causes/sensor.yaml",
        "gives a voltage that does not follow the shaft.",
        "always gives a false voltage.",
        "chance-word: the mechanism of 'sensor-internal' says 'always', and no check says so of it",
    ),
    (
        words_against_the_rule,
        "rules/small.yaml",
        "often sits where the work was done.",
        "seldom sits where the work was done.",
        "chance-word: the rule 'harness-work-before' says 'seldom', and none of its factors does: "
        "A fault that begins after harness work seldom sits where the work was done.",
    ),
    (
        words_against_the_rule,
        "rules/small.yaml",
        "often sits where the work was done.",
        "always sits there.",
        "chance-word: the rule 'harness-work-before' says 'always', and none of its factors does: "
        "A fault that begins after harness work always sits there.",
    ),
    (
        guesses_in_observations,
        SWEEP,
        "says: It jumps or drops out",
        "says: It probably jumps",
        "chance-word: 'output-sweep' guesses 'probably' where it should say what is seen: It probably jumps",
    ),
    (
        guesses_in_observations,
        HYDRAULICS,
        "Frame creeps with the engine running, stays still with it off",
        "Likely a creeping frame",
        "chance-word: 'steering-valve-leak' guesses 'Likely' where it should say what is seen: Likely a creeping frame",
    ),
    (
        shares_that_cannot_be_read,
        SWEEP,
        "Shows dead spots with the circuit whole.",
        "Shows where it leaves {90 % of the supply}.",
        "share-misread: checks 'output-sweep': '{90 % of the supply}' is no share of the supply; "
        "write {95 % of sensor supply}, {sensor supply} or {25 % of motion limit}",
    ),
    (
        shares_that_cannot_be_read,
        "tools.yaml",
        "title: Small torque wrench",
        "title: 'Torque wrench for {sensor supply}'",
        "share-misread: tools 'torque-wrench': a share of the supply stands in causes, checks and rules only",
    ),
]


def sound(name: str) -> str:
    """The text of a file of the small knowledge, made sound; nothing for a file that it has not."""
    file = SMALL / name
    text = file.read_text(encoding="utf-8") if file.exists() else ""
    for changed, old, new in MADE_SOUND:
        if changed == name:
            assert text.count(old) == 1
            text = text.replace(old, new)
    return text


def made(where: Path, **texts: str) -> Path:
    """The small knowledge made sound, with these files in place of its own; names as in `variant`."""
    base = {keyword(name): sound(name) for name, _, _ in MADE_SOUND}
    return variant(where, **{**base, **texts})


def keyword(name: str) -> str:
    return name.removesuffix(".yaml").replace("/", "__").replace("-", "_")


def findings(where: Path, **texts: str) -> list[str]:
    return [f"{i.lint}: {i.what}" for i in run_lints(load(made(where, **texts)))]


def planted(name: str, old: str, new: str) -> dict[str, str]:
    """The file with the fault in it; without an old text the new one is added at its end."""
    text = sound(name)
    assert not old or text.count(old) == 1, f"{name} has {text.count(old)} times {old!r}"
    return {keyword(name): text.replace(old, new) if old else text.rstrip("\n") + ("\n" if text else "") + new}


def test_sound_knowledge_gives_no_finding(tmp_path: Path) -> None:
    """Nothing is said about knowledge that has nothing wrong with it."""
    assert findings(tmp_path) == []


@pytest.mark.parametrize(
    ("lint", "name", "old", "new", "said"), PLANTED, ids=[f"{p[0].__name__}-{n}" for n, p in enumerate(PLANTED)]
)
def test_each_lint_finds_its_own_fault_alone(tmp_path: Path, lint: Lint, name: str, old: str, new: str, said: str) -> None:
    """A planted fault is found by the lint made for it, in full words, and by no other."""
    assert findings(tmp_path, **planted(name, old, new)) == [said]
    assert [f"{i.lint}: {i.what}" for i in lint(load(tmp_path / "knowledge"))] == [said]


def alike() -> dict[str, str]:
    """The files that make a loose coupling and a bad sensor come out alike in every check."""
    grip = planted(
        "checks/sensor-drive/coupling-grip.yaml",
        "otherwise: {slips: almost-no-chance}",
        "sensor-internal: {slips: likely}\n  otherwise: {slips: almost-no-chance}",
    )
    sweep = planted(SWEEP, "sensor-coupling-loose: {jumps: unlikely}", "sensor-coupling-loose: {jumps: likely}")
    return {**grip, **sweep}


def test_two_causes_that_no_check_separates_are_found(tmp_path: Path) -> None:
    """A pair under 6 dB is named with its complaints and with the check that comes nearest."""
    said = (
        "not-separated: no check parts 'sensor-coupling-loose' from 'sensor-internal' (motion-without-steering): "
        "the most is 4.3 dB by 'output-sweep'"
    )
    assert findings(tmp_path, **alike()) == [said]
    assert [f"{i.lint}: {i.what}" for i in pairs_nobody_separates(load(tmp_path / "knowledge"))] == [said]


def test_a_reviewed_pair_may_stay_together(tmp_path: Path) -> None:
    """A pair that the file of exceptions names is no finding, in whichever order it names the two."""
    exception = "- {id: drive-or-sensor, causes: [sensor-internal, sensor-coupling-loose], reason: Both come out for either.}\n"
    assert findings(tmp_path, **alike(), **planted(EXCEPTIONS, "", exception)) == []


def test_every_lint_has_a_planted_fault() -> None:
    """No lint is left untried."""
    assert set(LINTS) == {p[0] for p in PLANTED} | {pairs_nobody_separates}


def test_the_real_knowledge_gives_no_finding() -> None:
    """The knowledge that comes along passes its own lints."""
    assert [f"{i.lint}: {i.what}" for i in run_lints(real_knowledge())] == []
