"""A knowledge folder is loaded whole, or every error in it is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from builders import SMALL, small_knowledge
from folders import changed, real_knowledge, variant

from advisor.errors import KnowledgeError, NotFound
from advisor.library.parser import load
from advisor.library.sources import digest_of, knowledge_files

RULE = "- {{id: odd-rule, when: [{when}], then: [{then}], because: Made up., source: from-memory}}"
ADVICE = "{advice: Wait.}"
SANE = "{complaint: reads-low}"


def problems(folder: Path) -> list[str]:
    """Every problem of a folder that must not load."""
    with pytest.raises(KnowledgeError) as failure:
        load(folder)
    found = [str(p) for p in failure.value.problems]
    assert failure.value.what == f"{folder}: {len(found)} error{'s' if len(found) > 1 else ''} in the knowledge"
    return found


def problem(where: Path, **files: str | bytes) -> str:
    """The one problem of the small knowledge with these files changed."""
    found = problems(variant(where, **files))
    assert len(found) == 1, found
    return found[0]


def test_the_small_knowledge_loads() -> None:
    """Every kind of file ends up in its place, entries by id and in file order."""
    k = small_knowledge()
    assert list(k.complaints) == ["motion-without-steering", "reads-low"]
    assert k.causes["chafe-to-ground"].repair.minutes == 41
    assert [r.id for r in k.checks["supply-at-sensor-loaded"].results] == ["low", "normal", "high"]
    assert k.fault_modes[4].suggests == {"chafe-to-ground": "much-more"}
    assert k.causes["sensor-internal"].retest == ("output-sweep", "confirm-complaint")
    assert len(k.rule_cases) == 12
    assert k.words.probability["likely"].used == 0.68


def test_the_real_knowledge_loads() -> None:
    """The knowledge that comes with the program has no error, and the ids that other files rely on."""
    k = real_knowledge()
    assert {"motion-without-steering", "position-stuck", "tracks-disagree", "calibration-fails"} <= k.complaints.keys()
    assert {"high-resistance-splice", "sensor-coupling-loose", "cylinder-internal-leak"} <= k.causes.keys()
    assert {"confirm-complaint", "open-splice-and-pull", "swap-tracks", "drift-engine-off"} <= k.checks.keys()


def test_all_errors_of_a_load_are_shown_at_once_in_order(tmp_path: Path) -> None:
    """Syntax, type, key, double key, reference and place errors of many files come together, sorted by place."""
    folder = variant(
        tmp_path,
        causes__sensor=changed("causes/sensor.yaml", "source: common-practice", "source: heard-somewhere"),
        causes__hydraulics=changed("causes/hydraulics.yaml", "minutes: 110", "minutes: long"),
        checks__sensor__output_sweep=changed("checks/sensor/output-sweep.yaml", "stage: measure", "stage: measre"),
        rules__broken="- {id: [",
        tools=changed("tools.yaml", "- {id: torque-wrench,", "- {id: torque-wrench, colour: red,"),
        states=changed("states.yaml", "    minutes: 7\n", "    minutes: 7\n    minutes: 8\n"),
        spare="- {id: a}",
    )
    found = problems(folder)
    places = [re.match(r"(.*?):(\d+):(\d+): ", text) for text in found]
    assert all(places)
    keys = [(m[1], int(m[2]), int(m[3])) for m in places if m]
    assert keys == sorted(keys)
    wanted = [
        "knowledge/causes/hydraulics.yaml:12:5: a number is wanted here",
        "knowledge/causes/sensor.yaml:19:3: no source 'heard-somewhere'; known: common-practice, from-memory, icd-203, j1939-73",
        "knowledge/checks/sensor/output-sweep.yaml:4:1: 'measre' is not a word known here; did you mean 'measure'?",
        "knowledge/rules/broken.yaml:2:1: not readable as YAML",
        "knowledge/spare.yaml:1:1: this file has no place in the folder",
        "knowledge/states.yaml:47:5: the key 'minutes' stands here a second time; keep one",
        "knowledge/tools.yaml:6:23: 'colour' is not a key here; did you mean 'source'?",
    ]
    for text in wanted:
        assert any(line.startswith(text) for line in found), (text, found)


def test_a_broken_entry_is_blamed_alone(tmp_path: Path) -> None:
    """An entry with an error in it still exists: whoever names it is not blamed as well."""
    text = changed("causes/sensor.yaml", "frequency: occasional", "frequency: sometimes")
    assert problem(tmp_path, causes__sensor=text).startswith("knowledge/causes/sensor.yaml:6:3: 'sometimes' is not a word")


@pytest.mark.parametrize(
    "name", ["causes/sensor-drive.yaml", "causes/sensor.yaml", "cautions.yaml", "complaints.yaml", "intake.yaml"]
)
def test_a_file_that_cannot_be_read_is_blamed_alone(tmp_path: Path, name: str) -> None:
    """What it holds exists still: no other file is blamed for naming it."""
    text = (SMALL / name).read_text(encoding="utf-8") + "  broken: [\n"
    found = problems(variant(tmp_path, **{name.removesuffix(".yaml").replace("/", "__").replace("-", "_"): text}))
    assert len(found) == 1, found
    assert found[0].startswith(f"knowledge/{name}:")


@pytest.mark.parametrize(
    ("name", "old", "new", "wanted"),
    [
        ("causes/sensor.yaml", "title: Fault inside the sensor", "title: 7", "2:3: a text is wanted here"),
        (
            "causes/sensor.yaml",
            "  frequency: occasional\n",
            "",
            "1:3: 'frequency' is missing; add it; knowledge/README.md shows where",
        ),
        ("causes/sensor.yaml", "minutes: 38", "minutes: -1", "12:5: -1 is out of range; it must be at least 0"),
        ("causes/sensor.yaml", "minutes: 38", "minutes: 5000", "12:5: 5000 is out of range; it must be at most 2400"),
        ("causes/sensor.yaml", "parts:", "part:", "14:5: 'part' is not a key here; did you mean 'parts'?"),
        (
            "causes/sensor.yaml",
            "roughly-even",
            "roughly-evn",
            "7:16: 'roughly-evn' is not a word known here; did you mean 'roughly-even'?",
        ),
        (
            "causes/sensor.yaml",
            "- id: sensor-internal",
            "- id: Sensor_internal",
            "1:3: 'Sensor_internal' is not an id; use small letters",
        ),
        (
            "causes/sensor.yaml",
            "tell_tales: [Reading jumps at the same angle each time]",
            "tell_tales: []",
            "9:3: this list is too short",
        ),
        (
            "causes/sensor.yaml",
            "tell_tales: [Reading jumps at the same angle each time]",
            "tell_tales: none",
            "9:3: a list is wanted here",
        ),
        (
            "checks/power/supply-at-sensor-loaded.yaml",
            "unit: V,",
            "unit: volts,",
            "14:11: 'volts' is not a word known here; known: A, ",
        ),
        ("checks/power/supply-at-sensor-loaded.yaml", "lowest: 0", "lowest: none", "14:90: a number is wanted here"),
        ("checks/sensor/output-sweep.yaml", "second_person: true", "second_person: perhaps", "12:1: true or false is wanted here"),
        (
            "checks/sensor/output-sweep.yaml",
            "What does the output do",
            "What does " + "the long " * 15,
            "6:1: this text is longer than 120",
        ),
        ("fault-modes.yaml", "fmi: 2", "fmi: 32", "1:4: 32 is out of range; it must be at most 31"),
        ("fault-modes.yaml", "fmi: 2", "fmi: 2.5", "1:4: a whole number is wanted here"),
    ],
)
def test_a_value_of_the_wrong_kind_is_named_by_its_key(tmp_path: Path, name: str, old: str, new: str, wanted: str) -> None:
    """What is wrong with a value is said in plain words at the place of its key, with the nearest right thing."""
    key = name.removesuffix(".yaml").replace("/", "__").replace("-", "_")
    found = problems(variant(tmp_path, **{key: changed(name, old, new)}))
    assert any(text.startswith(f"knowledge/{name}:{wanted}") for text in found), found


@pytest.mark.parametrize(
    ("name", "old", "new", "wanted"),
    [
        (
            "causes/sensor.yaml",
            "reads-low: unlikely",
            "reads-lo: unlikely",
            "7:55: no complaint 'reads-lo'; did you mean 'reads-low'?",
        ),
        (
            "causes/sensor.yaml",
            "output-sweep: jumps",
            "output-swep: jumps",
            "10:11: no check 'output-swep'; did you mean 'output-sweep'?",
        ),
        (
            "causes/sensor.yaml",
            "output-sweep: jumps",
            "output-sweep: jump",
            "10:11: no result of output-sweep 'jump'; did you mean 'jumps'?",
        ),
        (
            "causes/sensor.yaml",
            "output-sweep: jumps",
            "output-sweep: smooth",
            "10:11: 'smooth' is the normal result of output-sweep",
        ),
        ("causes/sensor.yaml", "retest: [output-sweep,", "retest: [output-sweeps,", "18:12: no check 'output-sweeps'"),
        ("causes/sensor.yaml", "needs: {stand: blocked,", "needs: {stnd: blocked,", "13:13: no variable of the machine 'stnd'"),
        ("causes/sensor.yaml", "needs: {stand: blocked,", "needs: {stand: locked,", "13:13: no value of stand 'locked'"),
        ("causes/sensor.yaml", "kind: inside-the-sensor", "kind: inside-sensor", "4:3: no kind 'inside-sensor'"),
        ("causes/sensor-drive.yaml", "tools: [torque-wrench]", "tools: [torque-wrenc]", "14:13: no tool 'torque-wrenc'"),
        ("causes/sensor-drive.yaml", "cautions: [lock-the-hinge]", "cautions: [lock-hinge]", "15:16: no caution 'lock-hinge'"),
        (
            "causes/sensor.yaml",
            "source: common-practice",
            "source: common-practise",
            "19:3: no source 'common-practise'; did you mean",
        ),
        ("causes/sensor.yaml", "place: none", "place: none\n  point: sensor", "6:3: a point is only for a cause at terminals"),
        (
            "checks/sensor/output-sweep.yaml",
            'key: "on"',
            'key: "in"',
            "9:25: no value of key 'in'",
        ),
        ("checks/sensor/output-sweep.yaml", "[multimeter, breakout-lead]", "[multimeter, breakout]", "10:21: no tool 'breakout'"),
        (
            "checks/sensor/output-sweep.yaml",
            "[hands-clear]",
            "[hand-clear]",
            "11:12: no caution 'hand-clear'; did you mean 'hands-clear'?",
        ),
        (
            "checks/sensor/output-sweep.yaml",
            "source: common-practice",
            "source: commen-practice",
            "23:1: no source 'commen-practice'",
        ),
        ("checks/sensor-drive/coupling-grip.yaml", "disturbs: [output-sweep]", "disturbs: [output]", "13:12: no check 'output'"),
        (
            "checks/sensor/output-sweep.yaml",
            "  sensor-internal:",
            "  sensor-intern:",
            "19:3: no cause or kind 'sensor-intern'; did you mean 'sensor-internal'?",
        ),
        (
            "checks/sensor/output-sweep.yaml",
            "sensor-internal: {jumps",
            "sensor-internal: {jump",
            "19:21: no result of output-sweep 'jump'",
        ),
        ("checks/sensor/output-sweep.yaml", "  otherwise: {jumps: very-unlikely}\n", "", "18:1: 'otherwise' is missing"),
        ("checks/sensor/output-sweep.yaml", "smooth, normal: true", "smooth", "15:1: exactly one result must be normal"),
        (
            "checks/sensor/output-sweep.yaml",
            "or drops out}",
            "or drops out, normal: true}",
            "15:1: exactly one result must be normal",
        ),
        ("checks/sensor/output-sweep.yaml", "{id: smooth, says", "{id: jumps, says", "15:1: two results have the same id"),
        (
            "checks/sensor/output-sweep.yaml",
            "sensor-internal: {jumps: very-likely}",
            "sensor-internal: {}",
            "19:3: the words of this row add up to 0.00",
        ),
        (
            "checks/power/supply-at-sensor-loaded.yaml",
            "low: unlikely, high",
            "low: likely, normal: likely, high",
            "20:3: the words of this row add up to 1.39",
        ),
        (
            "checks/power/supply-at-sensor-loaded.yaml",
            "low: very-unlikely, high: almost-no-chance",
            "low: very-likely, high: likely",
            "21:3: the words of this row add up to 1.56",
        ),
        (
            "checks/power/supply-at-sensor-loaded.yaml",
            "4.7 V, below: 4.7",
            "4.7 V, below: 4.6",
            "15:1: the limits leave a gap or overlap",
        ),
        (
            "checks/power/supply-at-sensor-loaded.yaml",
            "4.7 V, below: 4.7",
            "4.7 V, below: 4.8",
            "15:1: the limits leave a gap or overlap",
        ),
        (
            "checks/power/supply-at-sensor-loaded.yaml",
            "or more, above: 5.3",
            "or more, above: 5.3, below: 30",
            "15:1: the limits leave a gap or overlap",
        ),
        ("checks/power/supply-at-sensor-loaded.yaml", ", below: 4.7}", "}", "15:1: the limits leave a gap or overlap"),
        (
            "checks/power/supply-at-sensor-loaded.yaml",
            "measure: {",
            "measure: {of: sensor-supply, ",
            "14:1: limits of a share of the supply lie between 0 and 2, and the unit is V",
        ),
        (
            "checks/harness/wiggle-harness.yaml",
            "stage: ",
            "point: sensor\nstage: ",
            "4:1: a point is only for a check done at a point",
        ),
        ("fault-modes.yaml", "{chafe-to-ground: much-more}", "{chafe-to-grond: much-more}", "2:90: no cause 'chafe-to-grond'"),
        ("states.yaml", "cautions: [lock-the-hinge]", "cautions: [lock-a-hinge]", "48:16: no caution 'lock-a-hinge'"),
        ("states.yaml", "tools: [load-resistor]", "tools: [load-resister]", "74:13: no tool 'load-resister'"),
        (
            "states.yaml",
            '    when: {stand: blocked, key: out}\n    sets: {sensor: "off"}',
            '    when: {stand: locked, key: out}\n    sets: {sensor: "off"}',
            "52:12: no value of stand 'locked'",
        ),
        ("states.yaml", "when: {every-plug: home}", "when: {each-plug: home}", "109:12: no variable of the machine 'each-plug'"),
        ("states.yaml", 'from: {sensor: "off"}', "from: {key: out}", "95:12: 'sensor' is set and does not stand under 'from'"),
        ("states.yaml", "    work: free\n", "    work: rolling\n", "4:5: no value of stand 'rolling'"),
        ("safety.yaml", "forbids: {stand: free}", "forbids: {stand: loose}", "3:13: no value of stand 'loose'"),
        ("safety.yaml", "caution: lock-the-hinge", "caution: lock-a-hinge", "4:3: no caution 'lock-a-hinge'"),
        ("retired.yaml", 'sensor-out: {sensor: "off"}', "sensor-out: {sensor: out}", "4:16: no value of sensor 'out'"),
        (
            "retired.yaml",
            "{end-plugs: apart}",
            "{end-plugs: apart}\nnarrowed: {wiggle-harness: {quiet: [quiet, still]}}",
            "6:44: no result of wiggle-harness 'still'",
        ),
        (
            "checks/connector/terminal-drag.yaml",
            "at: terminal\n",
            "at: terminal\nwhole_plug: {terminal-dragged: likely}\n",
            "13:14: no cause or kind 'terminal-dragged'",
        ),
        ("retired.yaml", "{end-plugs: apart}", "{end-plugs: apart}\nnarrowed: {wiggle: {a: [b]}}", "6:12: no check 'wiggle'"),
        ("rules/small.yaml", "{reading: load-test}", "{reading: load-test, is: too-much}", "44:34: no verdict 'too-much'"),
    ],
)
def test_each_wrong_reference_is_one_problem(tmp_path: Path, name: str, old: str, new: str, wanted: str) -> None:
    """An id that does not exist, or an entry that contradicts itself, is named once, by its place."""
    key = name.removesuffix(".yaml").replace("/", "__").replace("-", "_")
    found = problems(variant(tmp_path, **{key: changed(name, old, new)}))
    assert len([text for text in found if text.startswith(f"knowledge/{name}:{wanted}")]) == 1, found
    assert len([text for text in found if text.startswith(f"knowledge/{name}:")]) == 1, found


@pytest.mark.parametrize(
    ("when", "then", "wanted"),
    [
        ("{complaint: reads-lo}", ADVICE, "1:26: no complaint 'reads-lo'; did you mean 'reads-low'?"),
        ("{intake: temprature, is: hot}", ADVICE, "1:26: no intake question 'temprature'; did you mean 'temperature'?"),
        ("{intake: temperature, is: warm}", ADVICE, "no answer to temperature 'warm'"),
        ("{answer: wiggle, is: quiet}", ADVICE, "no check 'wiggle'"),
        ("{answer: wiggle-harness, is: [quiet, noisy]}", ADVICE, "no result of wiggle-harness 'noisy'"),
        ("{finding: supply-week}", ADVICE, "no finding of a rule 'supply-week'; did you mean 'supply-weak'?"),
        ("{layout: two-track}", ADVICE, "no layout fact 'two-track'; did you mean 'two-tracks'?"),
        ("{repaired: sensor-interna}", ADVICE, "no cause 'sensor-interna'"),
        ("{code: fmi}", ADVICE, "'code: fmi' needs 'is'"),
        ("{not: {answer: wiggle, is: quiet}}", ADVICE, "no check 'wiggle'"),
        ("{complaint: reads-low, finding: supply-weak}", ADVICE, "a pattern names exactly one thing"),
        ("{is: hot}", ADVICE, "a pattern names exactly one thing"),
        (SANE, "{prior: {sensor-intern: more}}", "no cause 'sensor-intern'"),
        (SANE, "{evidence: {sensor-intern: more}}", "no cause 'sensor-intern'"),
        (SANE, "{discount: wiggle}", "no check 'wiggle'"),
        (SANE, "{caution: hand-clear}", "no caution 'hand-clear'"),
        (SANE, "{hold: {check: wiggle, until: Now.}}", "no check 'wiggle'"),
        (SANE, "{hold: {cause: sensor-intern, until: Now.}}", "no cause 'sensor-intern'"),
        (SANE, "{hold: {until: Now.}}", "a hold names exactly one of check, stage and cause"),
        (SANE, "{hold: {check: wiggle-harness, stage: look, until: Now.}}", "a hold names exactly one of check, stage and cause"),
        (SANE, "{hold: {check: wiggle-harness}}", "a hold says either 'until' or 'never'"),
        (SANE, "{hold: {check: wiggle-harness, until: Now., never: No.}}", "a hold says either 'until' or 'never'"),
        (SANE, "{finding: odd}", "the finding 'odd' has no words; add 'says'"),
        (SANE, "{advice: Wait., caution: hands-clear}", "an action concludes exactly one thing"),
        (SANE, "{says: Nothing}", "an action concludes exactly one thing"),
    ],
)
def test_each_mistake_in_a_rule_is_one_problem(tmp_path: Path, when: str, then: str, wanted: str) -> None:
    """A pattern or an action that names what does not exist, or too much, or nothing, is one problem in its rule."""
    text = problem(tmp_path, rules__odd=RULE.format(when=when, then=then))
    assert text.startswith("knowledge/rules/odd.yaml:1:")
    assert wanted in text


@pytest.mark.parametrize(
    ("case", "wanted"),
    [
        ("rule: hot-means-join", "no rule 'hot-means-join'; did you mean 'hot-means-joint'?"),
        ("rule: hot-means-joint, complaint: reads-lo", "no complaint 'reads-lo'"),
        ("rule: hot-means-joint, intake: {temprature: hot}", "no intake question 'temprature'"),
        ("rule: hot-means-joint, intake: {temperature: warm}", "warm"),
        ("rule: hot-means-joint, answers: [{check: wiggle, result: quiet}]", "no check 'wiggle'"),
        ("rule: hot-means-joint, answers: [{check: wiggle-harness, result: noisy}]", "no result of wiggle-harness 'noisy'"),
        ("rule: hot-means-joint, answers: [{result: quiet}]", "check"),
        ("rule: hot-means-joint, answers: [{reading: load-test}]", "judged"),
        ("rule: hot-means-joint, answers: [{reading: load-test, judged: too-much}]", "too-much"),
        ("rule: hot-means-joint, codes: [rattles]", "rattles"),
        ("rule: hot-means-joint, layout: [two-track]", "two-track"),
        ("rule: hot-means-joint, repaired: [sensor-intern]", "sensor-intern"),
    ],
)
def test_each_mistake_in_a_rule_case_is_one_problem(tmp_path: Path, case: str, wanted: str) -> None:
    """A case that describes what cannot be is refused; a case that can never fire would otherwise pass as 'does not fire'."""
    text = problem(tmp_path, rules__odd_cases=f"- {{{case}, fires: false}}")
    assert text.startswith("knowledge/rules/odd.cases.yaml:1:")
    assert wanted in text


@pytest.mark.parametrize(
    ("files", "wanted"),
    [
        ({"causes__sensor_drive_more": "[]"}, None),
        ({"notes": "- {id: a}"}, "knowledge/notes.yaml:1:1: this file has no place in the folder"),
        ({"cause": "[]"}, "knowledge/cause.yaml:1:1: this file has no place in the folder"),
        ({"checks__wiggle": "id: a"}, "knowledge/checks/wiggle.yaml:1:1: this file has no place in the folder"),
        ({"causes__bus__more": "[]"}, "knowledge/causes/bus/more.yaml:1:1: this file has no place in the folder"),
        ({"rules__bus__more": "[]"}, "knowledge/rules/bus/more.yaml:1:1: this file has no place in the folder"),
        (
            {"compaints": "[]"},
            "knowledge/compaints.yaml:1:1: this file has no place in the folder; did you mean 'complaints.yaml'?",
        ),
        ({"tools": "a: 1"}, "knowledge/tools.yaml:1:1: a list of entries is wanted here; start each with '- '"),
        ({"rules__more": "id: a"}, "knowledge/rules/more.yaml:1:1: a list of entries is wanted here"),
        ({"checks__bus__odd": "- id: a"}, "knowledge/checks/bus/odd.yaml:1:1: a mapping (key: value) is wanted here"),
        ({"rules__more": ""}, "knowledge/rules/more.yaml:1:1: is empty"),
        ({"words": ""}, "knowledge/words.yaml:1:1: is empty"),
        ({"rules__more": b"\x00\x01"}, "knowledge/rules/more.yaml:1:1: is not a text file"),
    ],
)
def test_a_file_in_the_wrong_place_or_shape_is_named(tmp_path: Path, files: dict[str, str], wanted: str | None) -> None:
    """A file that no part of the knowledge reads, or that holds another shape, is an error at its start."""
    folder = variant(tmp_path, **files)
    if wanted is None:
        assert load(folder).causes.keys() == small_knowledge().causes.keys()
        return
    assert any(text.startswith(wanted) for text in problems(folder))


def test_a_check_in_the_wrong_folder_or_file_is_named(tmp_path: Path) -> None:
    """A check's system is its folder and its id its file; both are said with what would fit."""
    folder = variant(tmp_path)
    (folder / "checks/sensor/output-sweep.yaml").rename(folder / "checks/power/output-swept.yaml")
    assert problems(folder) == [
        "knowledge/checks/power/output-swept.yaml:1:1: 'output-sweep' does not fit the file's place; did you mean 'output-swept'?",
        "knowledge/checks/power/output-swept.yaml:3:1: 'sensor' does not fit the file's place; did you mean 'power'?",
    ]


def test_an_id_used_twice_names_the_first_use(tmp_path: Path) -> None:
    """Two entries of one kind with one id: the second is wrong, and the first is shown."""
    text = problem(tmp_path, tools=(SMALL / "tools.yaml").read_text() + "- {id: multimeter, title: Another one}")
    assert text == "knowledge/tools.yaml:7:4: 'multimeter' is already used at knowledge/tools.yaml:1:3; choose another id"


def test_a_missing_words_file_is_one_problem(tmp_path: Path) -> None:
    """Without words nothing can be weighed; that is said instead of a crash."""
    folder = variant(tmp_path)
    (folder / "words.yaml").unlink()
    assert problems(folder) == ["knowledge/words.yaml: is missing; every folder needs it"]


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("  likely: {low: 55, high: 80, used: 0.68}\n", "", "likely"),
        (", more: 2,", ",", "more"),
        (", common: 9", "", "common"),
        ("low: 55, high: 80, used: 0.68", "low: 55, high: 80, used: 0.93", "0.93"),
        ("low: 55, high: 80, used: 0.68", "low: 80, high: 55, used: 0.68", "80"),
    ],
)
def test_words_that_are_missing_or_contradict_their_band_are_named(tmp_path: Path, old: str, new: str, wanted: str) -> None:
    """Every word has its value, inside its own band."""
    assert any("words.yaml" in p and wanted in p for p in problems(variant(tmp_path, words=changed("words.yaml", old, new))))


def test_a_file_that_cannot_be_read_is_a_problem_with_its_name(tmp_path: Path) -> None:
    """A link that leads nowhere is named; the load does not look as if it had found nothing."""
    folder = variant(tmp_path)
    (folder / "tools.yaml").unlink()
    (folder / "tools.yaml").symlink_to(tmp_path / "gone.yaml")
    with pytest.raises(KnowledgeError) as failure:
        load(folder)
    assert "tools.yaml" in failure.value.what + " ".join(map(str, failure.value.problems))


def test_a_folder_that_is_none_is_not_found(tmp_path: Path) -> None:
    """A missing folder, a file, or a folder without knowledge: each says so."""
    (tmp_path / "file").write_text("x")
    (tmp_path / "empty").mkdir()
    for name, what in (
        ("gone", "no such knowledge folder"),
        ("file", "no such knowledge folder"),
        ("empty", "holds no knowledge files"),
    ):
        with pytest.raises(NotFound, match=what):
            load(tmp_path / name)


def test_hidden_folders_are_left_alone(tmp_path: Path) -> None:
    """What an editor or a version control keeps in the folder is no knowledge."""
    folder = variant(tmp_path)
    (folder / ".git").mkdir()
    (folder / ".git" / "odd.yaml").write_text("x: [")
    (folder / ".words.yaml").write_text("x: [")
    assert load(folder).digest == small_knowledge().digest


def test_the_digest_does_not_depend_on_the_system(tmp_path: Path) -> None:
    """Line ends and the folder's own name change nothing; a changed letter, a new or a renamed file does."""
    folder = variant(tmp_path)
    for file in knowledge_files(folder):
        file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    same = digest_of(SMALL, knowledge_files(SMALL))
    assert digest_of(folder, knowledge_files(folder)) == same == small_knowledge().digest
    assert load(folder).digest == same
    assert re.fullmatch("[0-9a-f]{64}", same)

    tools = folder / "tools.yaml"
    tools.write_bytes(tools.read_bytes().replace(b"Ratchet", b"ratchet"))
    letter = digest_of(folder, knowledge_files(folder))
    (folder / "causes/sensor.yaml").rename(folder / "causes/sensors.yaml")
    renamed = digest_of(folder, knowledge_files(folder))
    assert len({same, letter, renamed}) == 3


def test_a_check_at_a_whole_point_is_no_proof(tmp_path: Path) -> None:
    """What is done at a plug shows no one terminal, so a cause cannot name it as its proof."""
    found = problems(
        variant(
            tmp_path, checks__harness__wiggle_harness=changed("checks/harness/wiggle-harness.yaml", "stage: ", "at: point\nstage: ")
        )
    )
    assert found == [
        "knowledge/causes/harness.yaml:33:11: wiggle-harness is done at a whole point, so it does not show one place alone;"
        " name another check"
    ]


def test_answers_that_say_no_difference_together_are_answers_of_their_question(tmp_path: Path) -> None:
    """One that the question does not have is named by its place."""
    text = changed("intake.yaml", "  many: true\n", "  many: true\n  no_difference: [harness-repair, nothng]\n")
    assert problem(tmp_path, intake=text).startswith("knowledge/intake.yaml:13:35: no answer 'nothng'; did you mean 'nothing'?")
