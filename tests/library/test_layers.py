"""The shop's knowledge over the shipped: what it changes, what it keeps, and what it may not do."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import SMALL, small_knowledge

from advisor.errors import KnowledgeError, NotFound
from advisor.library.lints import run_lints
from advisor.library.parser import load, places
from advisor.library.sources import digest_of, knowledge_files
from advisor.model.knowledge import Knowledge

GRIP = "checks/sensor-drive/coupling-grip.yaml"
WIGGLE = "checks/harness/wiggle-harness.yaml"
NEW_CHECK = """\
id: {id}
title: Grip of the coupling with a torque spanner
system: sensor-drive
stage: dismantle
hands: drive
question: Does the coupling turn at two newton metres?
purpose: Shows a slipping drive with a figure.
minutes: 8
needs: {{stand: blocked, sensor: "off"}}
steps: [Turn it with the spanner.]
mistakes: [Turning past the figure]
results:
  - {{id: turns, says: It turns}}
  - {{id: tight, says: It holds, normal: true}}
evidence:
  sensor-coupling-loose: {{turns: almost-certain}}
  otherwise: {{turns: almost-no-chance}}
source: common-practice
"""
NEW_CAUSE = """\
- id: stem-cracked
  title: Stem of the sensor cracked
  system: sensor-drive
  kind: slipping-drive
  frequency: rare
  complaints: {motion-without-steering: likely}
  mechanism: The stem twists at the crack.
  tell_tales: [Rust at the crack]
  proof: {coupling-grip: cracked}
  repair:
    minutes: 40
    needs: {stand: blocked, sensor: "off"}
    hands: drive
    cautions: [lock-the-hinge]
    steps: [Fit another sensor.]
    workmanship: [No play when twisted by hand]
    recalibrate: Centre position of the angle sensor
  retest: [coupling-grip]
  source: common-practice
"""


def layer(where: Path, files: dict[str, str]) -> Path:
    """A shop's folder with these files."""
    for name, text in files.items():
        file = where / "shop" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    return where / "shop"


def both(where: Path, files: dict[str, str]) -> Knowledge:
    return load(SMALL, layer(where, files))


def problems(where: Path, files: dict[str, str]) -> list[str]:
    with pytest.raises(KnowledgeError) as failure:
        both(where, files)
    return [str(p) for p in failure.value.problems]


def problem(where: Path, files: dict[str, str]) -> str:
    found = problems(where, files)
    assert len(found) == 1, found
    return found[0]


def test_only_what_differs_is_changed(tmp_path: Path) -> None:
    """Minutes change, an evidence row changes whole, and every other field stays as shipped."""
    text = "extends: coupling-grip\nminutes: 9\nevidence:\n  sensor-coupling-loose: {slips: likely}\n"
    new, old = both(tmp_path, {GRIP: text}).checks["coupling-grip"], small_knowledge().checks["coupling-grip"]
    assert (new.minutes, new.evidence["sensor-coupling-loose"]) == (9, {"slips": "likely"})
    assert new.evidence["otherwise"] == old.evidence["otherwise"]
    assert new.model_dump(exclude={"minutes", "evidence"}) == old.model_dump(exclude={"minutes", "evidence"})


def test_a_row_is_changed_whole(tmp_path: Path) -> None:
    """A row of the shop does not mix with the words of the shipped row."""
    text = "extends: coupling-grip\nevidence:\n  sensor-coupling-loose: {tight: very-unlikely}\n"
    assert both(tmp_path, {GRIP: text}).checks["coupling-grip"].evidence["sensor-coupling-loose"] == {"tight": "very-unlikely"}


def test_lists_are_added_to(tmp_path: Path) -> None:
    """Cautions, mistakes and steps of the shop stand behind the shipped ones."""
    text = "extends: wiggle-harness\ncautions: [do-not-pierce]\nmistakes: [Moving two spots at once]\nsteps: [Note the spot.]\n"
    check = both(tmp_path, {WIGGLE: text}).checks["wiggle-harness"]
    assert check.cautions == ("hands-clear", "do-not-pierce")
    assert check.mistakes == ("Pulling so hard that a sound terminal backs out", "Moving two spots at once")
    assert check.steps[-2:] == ("Watch the reading.", "Note the spot.")


def test_steps_are_put_before_among_and_after(tmp_path: Path) -> None:
    """A step goes first, behind a shipped step that is named by its words, or last; the shipped ones stay in order."""
    text = (
        "extends: wiggle-harness\nsteps:\n  first: [Clean it.]\n"
        "  after: {Start at the sensor.: [Mark the spot.]}\n  last: Photo it.\n"
    )
    assert both(tmp_path, {WIGGLE: text}).checks["wiggle-harness"].steps == (
        "Clean it.",
        "Start at the sensor.",
        "Mark the spot.",
        "Move a hand's width at a time.",
        "Watch the reading.",
        "Photo it.",
    )


def test_a_limit_is_changed_at_its_result(tmp_path: Path) -> None:
    """Results are known by their ids, so a limit changes in its place."""
    text = "extends: supply-at-sensor-loaded\nresults:\n  - {id: low, below: 0.9}\n  - {id: normal, above: 0.9}\n"
    new = both(tmp_path, {"checks/power/supply-at-sensor-loaded.yaml": text}).checks["supply-at-sensor-loaded"]
    assert [(r.id, r.below, r.above) for r in new.results][:2] == [
        ("low", 0.9, None),
        ("normal", small_knowledge().checks["supply-at-sensor-loaded"].results[1].below, 0.9),
    ]


def test_a_new_cause_needs_no_copy_of_a_shipped_check(tmp_path: Path) -> None:
    """The shop adds a cause, and to the shipped check one result and one row for it; all else is as shipped."""
    grip = (
        "extends: coupling-grip\nresults:\n  - {id: cracked, says: The stem shows a crack}\n"
        "evidence:\n  stem-cracked: {cracked: very-likely}\n"
    )
    k = both(tmp_path, {"causes/sensor-drive.yaml": NEW_CAUSE, GRIP: grip})
    assert list(k.causes)[-1] == "stem-cracked"
    assert {c for c in k.causes if c != "stem-cracked"} == set(small_knowledge().causes)
    assert k.checks["coupling-grip"].evidence["stem-cracked"] == {"cracked": "very-likely"}


def test_lints_look_at_both_layers(tmp_path: Path) -> None:
    """A cause of the shop that no check tells apart is found, as a shipped one would be."""
    cause = NEW_CAUSE.replace("coupling-grip: cracked", "coupling-grip: slips")
    found = run_lints(both(tmp_path, {"causes/sensor-drive.yaml": cause}))
    assert any("stem-cracked" in issue.what for issue in found)
    assert not any("stem-cracked" in issue.what for issue in run_lints(small_knowledge()))


def test_errors_are_named_in_the_file_of_their_layer(tmp_path: Path) -> None:
    """A wrong word in the shop's line is named there; nothing is blamed on the shipped file."""
    text = "extends: coupling-grip\nminutes: long\nevidence:\n  sensor-coupling-loose: {slips: likly}\n"
    assert problems(tmp_path, {GRIP: text}) == [
        f"shop/{GRIP}:2:1: a number is wanted here",
        f"shop/{GRIP}:4:27: 'likly' is not a word known here; did you mean 'likely'?",
    ]


def test_an_error_that_the_shop_causes_in_a_shipped_row_is_named(tmp_path: Path) -> None:
    """A row for a cause that is not there is named with its line in the shop's file."""
    text = "extends: coupling-grip\nevidence:\n  sensor-copling-loose: {slips: likely}\n"
    assert problem(tmp_path, {GRIP: text}) == (
        f"shop/{GRIP}:3:3: no cause or kind 'sensor-copling-loose'; did you mean 'sensor-coupling-loose'?"
    )


def test_folders_of_one_name_are_told_apart(tmp_path: Path) -> None:
    """Where both folders have one name, the shop's files are named in full."""
    folder = tmp_path / SMALL.name
    (folder / "checks/sensor-drive").mkdir(parents=True)
    (folder / GRIP).write_text("extends: coupling-grip\nminutes: long\n")
    with pytest.raises(KnowledgeError) as failure:
        load(SMALL, folder)
    assert str(failure.value.problems[0]).startswith(f"{folder}/{GRIP}:2:1: ")


def test_the_digest_names_both_layers(tmp_path: Path) -> None:
    """Two digests joined: the shipped part stays, and the shop's part changes with any of its files."""
    alone = digest_of(SMALL, knowledge_files(SMALL))
    one = both(tmp_path, {GRIP: "extends: coupling-grip\nminutes: 9\n"}).digest
    two = both(tmp_path, {GRIP: "extends: coupling-grip\nminutes: 8\n"}).digest
    assert one.split("+")[0] == two.split("+")[0] == alone
    assert one != two
    assert small_knowledge().digest == alone


def test_a_place_is_where_an_entry_was_changed(tmp_path: Path) -> None:
    """An extended entry is found in the shop's file, an untouched one in the shipped."""
    at = places(SMALL, layer(tmp_path, {GRIP: "extends: coupling-grip\nminutes: 9\n"}))
    assert str(at["checks", "coupling-grip"]) == f"shop/{GRIP}:1:1"
    assert at["checks", "wiggle-harness"].path == f"{SMALL.name}/{WIGGLE}"


def test_what_stands_for_a_retired_check_takes_its_place(tmp_path: Path) -> None:
    """Proof, retest and rules name the new check with its results, and old cases are read with them."""
    files = {
        GRIP: "retire: coupling-grip\nbecause: Two fingers feel too little.\nstands: grip-by-figure\nresults: {slips: turns}\n",
        "checks/sensor-drive/grip-by-figure.yaml": NEW_CHECK.format(id="grip-by-figure"),
    }
    k = both(tmp_path, files)
    cause = k.causes["sensor-coupling-loose"]
    assert "coupling-grip" not in k.checks
    assert cause.proof == {"grip-by-figure": "turns"}
    assert cause.retest == ("grip-by-figure", "watch-wheel-against-reading")
    assert k.retired.check("coupling-grip") == "grip-by-figure"
    assert k.retired.result("grip-by-figure", "slips") == "turns"


def test_a_retired_cause_with_nothing_in_its_place_leaves_no_row(tmp_path: Path) -> None:
    """Rows, what fault modes suggest and the like go with the cause."""
    text = "- {retire: chafe-to-ground, because: Never met here., stands: nothing}\n"
    k = both(tmp_path, {"causes/harness.yaml": text})
    assert "chafe-to-ground" not in k.causes
    assert all("chafe-to-ground" not in c.evidence for c in k.checks.values())
    assert all("chafe-to-ground" not in m.suggests for m in k.fault_modes.values())


def test_a_rule_goes_with_its_cases(tmp_path: Path) -> None:
    """The cases that held a retired rule to its word have nothing left to hold."""
    k = both(tmp_path, {"rules/ours.yaml": "- {retire: hot-means-joint, because: Our yard is cold., stands: nothing}\n"})
    assert "hot-means-joint" not in k.rules
    assert all(case.rule != "hot-means-joint" for case in k.rule_cases)
    assert any(case.rule == "hot-means-joint" for case in small_knowledge().rule_cases)


def test_a_check_that_is_needed_is_not_retired_for_nothing(tmp_path: Path) -> None:
    """The only proof of a cause stays, unless something stands for it; who needs it is named."""
    found = problems(tmp_path, {GRIP: "retire: coupling-grip\nbecause: Slow.\nstands: nothing\n"})
    where = "small-knowledge/causes/sensor-drive.yaml:1:3 needs it; name what stands for it, or extend 'sensor-coupling-loose'"
    assert found == [f"shop/{GRIP}:3:1: 'coupling-grip' is retired, and causes 'sensor-coupling-loose' at {where}"]


def test_what_stands_for_it_has_every_result(tmp_path: Path) -> None:
    """A result of the old check that the new one lacks is asked for."""
    files = {
        GRIP: "retire: coupling-grip\nbecause: Slow.\nstands: grip-by-figure\n",
        "checks/sensor-drive/grip-by-figure.yaml": NEW_CHECK.format(id="grip-by-figure"),
    }
    assert "no result of 'grip-by-figure' stands for 'slips'; write 'results: {slips: ...}'" in problems(tmp_path, files)[0]


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        (WIGGLE, "extends: wiggle-harness\ncautions: []\n", "nothing stands at 'cautions'; the shop takes nothing away"),
        (WIGGLE, "extends: wiggle-harness\ncautions:\n", "nothing stands at 'cautions'; the shop takes nothing away"),
        (GRIP, "extends: coupling-grip\nhands: none\n", "'hands: drive' says what is dangerous, and is not changed"),
        (GRIP, "extends: coupling-grip\nneeds: {stand: [free, blocked]}\n", "'stand' would allow more than blocked"),
        (GRIP, "extends: coupling-grip\nneeds: {stand: free}\n", "'stand' would allow more than blocked"),
        (GRIP, "extends: coupling-grip\nleaves: {stand: blocked}\n", "'leaves' says how the machine stands"),
        (GRIP, "extends: coupling-grip\nstage: look\n", "'stage' is what the entry is known by"),
        ("safety.yaml", "- {extends: no-plug-under-power, forbids: {key: out}}\n", "a safety rule is not changed by the shop"),
        (
            "safety.yaml",
            "- {retire: no-plug-under-power, because: Slow., stands: nothing}\n",
            "a safety rule is not taken away by the shop",
        ),
        ("cautions.yaml", "- {extends: hands-clear, says: Mind your hands.}\n", "a caution is not changed by the shop"),
        ("cautions.yaml", "- {retire: hands-clear, because: Known., stands: nothing}\n", "a caution is not taken away by the shop"),
        ("states.yaml", "moves:\n  - {extends: block-machine, cautions: []}\n", "nothing stands at 'cautions'"),
        ("states.yaml", "moves:\n  - {extends: block-machine, sets: {key: out}}\n", "'sets' is what the entry is known by"),
        ("states.yaml", "moves:\n  - {extends: take-sensor-off, hands: none}\n", "'hands: drive' says what is dangerous"),
        (
            "states.yaml",
            "variables:\n  - {extends: stand, values: [{id: strapped, says: Strapped}]}\n",
            "a shipped variable gets no further value",
        ),
        (
            "states.yaml",
            "moves:\n  - {id: strap, title: Strap it, from: {stand: free}, sets: {stand: blocked}, minutes: 1, "
            "steps: [Strap it.]}\n",
            "'strap' sets stand: blocked and does not warn of lock-the-hinge",
        ),
        (
            "rules/ours.yaml",
            "- {retire: harness-work-before, because: Known., stands: nothing}\n",
            "the rule 'harness-work-before' gives a caution, and is not taken away",
        ),
        (
            "causes/sensor-drive.yaml",
            "- {extends: sensor-coupling-loose, repair: {recalibrate: none}}\n",
            "what must be calibrated afterwards is not taken away",
        ),
        (
            "causes/sensor-drive.yaml",
            "- {extends: sensor-coupling-loose, repair: {needs: {sensor: ['on', 'off']}}}\n",
            "'sensor' would allow more than off",
        ),
    ],
)
def test_nothing_that_warns_is_taken_away(tmp_path: Path, name: str, text: str, said: str) -> None:
    """A caution, a safety rule, and what both follow from stay as shipped; the shop's line is named."""
    found = problem(tmp_path, {name: text})
    assert found.startswith(f"shop/{name}:")
    assert said in found


def test_what_stands_for_a_retired_entry_warns_as_much(tmp_path: Path) -> None:
    """A copy without the caution, or without what is dangerous, does not take a check's place."""
    tame = NEW_CHECK.format(id="grip-by-figure").replace("hands: drive\n", "")
    files = {
        GRIP: "retire: coupling-grip\nbecause: Slow.\nstands: grip-by-figure\nresults: {slips: turns}\n",
        "checks/sensor-drive/grip-by-figure.yaml": tame,
    }
    assert "'grip-by-figure' does not warn as 'coupling-grip' does: hands: drive" in problem(tmp_path, files)


@pytest.mark.parametrize(
    ("files", "said"),
    [
        (
            {"checks/sensor-drive/copling-grip.yaml": "extends: copling-grip\nminutes: 9\n"},
            "the shipped knowledge has no 'copling-grip' among its checks; did you mean 'coupling-grip'?",
        ),
        (
            {GRIP: NEW_CHECK.format(id="coupling-grip")},
            "'coupling-grip' is already used at small-knowledge/checks/sensor-drive/coupling-grip.yaml:1:1; "
            "choose another id, or write 'extends: coupling-grip' to change that one",
        ),
        (
            {"causes/sensor-drive.yaml": "- {extends: sensor-coupling-loose, frequency: rare}\n" * 2},
            "'sensor-coupling-loose' is changed at shop/causes/sensor-drive.yaml:1:3 already",
        ),
        (
            {"causes/sensor.yaml": "- {extends: sensor-coupling-loose, frequency: rare}\n"},
            "'sensor-coupling-loose' has system 'sensor-drive', and the file's place says 'sensor'",
        ),
        (
            {"tools.yaml": "- {id: a-gauge, title: Gauge}\n- {id: a-gauge, title: Other gauge}\n"},
            "shop/tools.yaml:2:4: 'a-gauge' is already used at shop/tools.yaml:1:3; choose another id",
        ),
        (
            {"tools.yaml": "- {id: a-gauge, title: Gauge}\n- {extends: a-gauge, title: Other gauge}\n"},
            "'a-gauge' is the shop's own, at shop/tools.yaml:1:3; change it there",
        ),
        (
            {WIGGLE: "extends: wiggle-harness\nmistakes: [Pulling so hard that a sound terminal backs out]\n"},
            "stands here already; an extension names only what it adds",
        ),
        (
            {WIGGLE: "extends: wiggle-harness\nsteps: {after: {Start at sensor.: [Wait.]}}\n"},
            "no shipped step has just these words; did you mean 'Start at the sensor.'?",
        ),
        (
            {WIGGLE: "extends: wiggle-harness\nsteps: {frist: [Wait.]}\n"},
            "'frist' is no place for a step; did you mean 'first'?",
        ),
        ({GRIP: "retire: coupling-grip\nstands: nothing\n"}, "'because' is missing"),
        (
            {GRIP: "retire: coupling-grip\nbecause: Slow.\nstands: coupling-gripe\n"},
            "'coupling-gripe' is not among the checks",
        ),
        ({"complaints.yaml": "- {retire: reads-low, because: Rare., stands: nothing}\n"}, "entries of complaints are not retired"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_named(tmp_path: Path, files: dict[str, str], said: str) -> None:
    """What is not there, what stands twice, and what lacks a reason."""
    assert any(said in found for found in problems(tmp_path, files))


def test_an_id_that_the_update_has_too_is_named_once(tmp_path: Path) -> None:
    """An entry of the shop whose id the shipped knowledge has too gives one error, not one for each of its fields."""
    assert len(problems(tmp_path, {GRIP: NEW_CHECK.format(id="coupling-grip")})) == 1


def test_the_words_file_of_the_shop_says_only_what_differs(tmp_path: Path) -> None:
    """A visit costs more here, and every other figure stays."""
    k, old = both(tmp_path, {"words.yaml": "visit_minutes: 240\n"}), small_knowledge()
    assert k.words.visit_minutes == 240
    assert k.words.model_dump(exclude={"visit_minutes"}) == old.words.model_dump(exclude={"visit_minutes"})


def test_an_empty_or_missing_shop_is_named(tmp_path: Path) -> None:
    """A shop that was asked for and is not there is an error, not silence."""
    with pytest.raises(NotFound, match="no such knowledge folder") as failure:
        load(SMALL, tmp_path / "none")
    assert failure.value.hint == "Name the folder that holds the shop's own files with --shop."
    (tmp_path / "bare").mkdir()
    with pytest.raises(NotFound, match="holds no knowledge files"):
        load(SMALL, tmp_path / "bare")


@pytest.mark.parametrize("text", ["extends: [coupling-grip]\n", "extends: {a: b}\n", "extends:\n", "retire: [a]\n", "- 3\n", "7\n"])
def test_odd_shapes_end_in_words(tmp_path: Path, text: str) -> None:
    """Lists and mappings where an id is wanted are named, and none ends the program."""
    assert all(f"shop/{GRIP}:" in found for found in problems(tmp_path, {GRIP: text}))
