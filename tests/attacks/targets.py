"""Everything that reads what comes from outside, each as a function of bytes: it takes them, or refuses them in words.

What else it raises, the fuzzers call a crash. Each target has examples to begin with.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import yaml
from builders import MACHINE, MORNING, SMALL, small_knowledge, small_machine, trade_knowledge

from advisor.commands.verify import verify
from advisor.consultation.again import first_unfit
from advisor.consultation.consultation import Consultation
from advisor.consultation.quantities import number, volts
from advisor.consultation.scenario import events_of
from advisor.electrical.meter import parse_meter
from advisor.electrical.wire import parse_size
from advisor.errors import AdvisorError
from advisor.library.field_cases import read_field_case
from advisor.library.files import read_machine, read_scenario
from advisor.library.parser import load
from advisor.model.case import Answered, Case, Noted, Opened, Reading
from advisor.model.trouble_code import parse_code
from advisor.session.hearing import Ear
from advisor.session.lines import reply
from advisor.session.session import Session
from advisor.store.folder import CaseStore
from advisor.store.lines import scan
from advisor.store.settings import read_settings
from advisor.store.transfer import send, unpack

ROOT = Path(__file__).parents[2]
CASE = "20310304-k2"
PHRASES = b"""- id: worse-when-hot
  said: [worse > hot/warm, "hot ... worse"]
  unless: [cold]
  means: {temperature: hot}
"""


@dataclass(frozen=True)
class Target:
    """One reader, and inputs that it knows."""

    read: Callable[[bytes], None]
    examples: tuple[bytes, ...]


@cache
def _folder() -> Path:
    """A folder of this process, in memory where the system has such a place."""
    shared = Path("/dev/shm")
    return Path(tempfile.mkdtemp(dir=shared if shared.is_dir() and os.access(shared, os.W_OK) else None))


def clear() -> None:
    """Takes the folder of this process away."""
    shutil.rmtree(_folder(), ignore_errors=True)
    _folder.cache_clear()


def _file(data: bytes, name: str) -> Path:
    file = _folder() / name
    file.write_bytes(data)
    return file


def _machine(data: bytes) -> None:
    read_machine(_file(data, "machine.yaml"))


def _scenario(data: bytes) -> None:
    told = read_scenario(_file(data, "told.yaml"))
    list(events_of(small_knowledge(), told))


def _field(data: bytes) -> None:
    read_field_case(_file(data, "field.yaml"), small_knowledge())


@cache
def _copied() -> tuple[Path, Path]:
    folder = _folder() / "knowledge"
    shutil.copytree(SMALL, folder)
    return folder, next(p for p in sorted((folder / "checks").rglob("*.yaml")))


def _knowledge(data: bytes) -> None:
    """One file of the knowledge replaced; all of it is loaded."""
    folder, file = _copied()
    sound = file.read_bytes()
    file.write_bytes(data)
    try:
        load(folder)
    finally:
        file.write_bytes(sound)


def _rules(data: bytes) -> None:
    file = _copied()[0] / "rules" / "small.yaml"
    sound = file.read_bytes()
    file.write_bytes(data)
    try:
        load(_copied()[0])
    finally:
        file.write_bytes(sound)


def _phrases(data: bytes) -> None:
    """A file of phrases beside a knowledge that has none."""
    file = _copied()[0] / "phrases.yaml"
    file.write_bytes(data)
    try:
        load(_copied()[0])
    finally:
        file.unlink()


@cache
def _ear() -> Ear:
    return Ear(trade_knowledge())


def _words(data: bytes) -> None:
    _ear().hear(data.decode("utf-8", "replace"))


def _case(data: bytes) -> None:
    """A case file, and what stands before its damage, taken as far as the ranking."""
    found = scan("case", CASE, data)
    if found.events and first_unfit(small_knowledge(), Case(found.events), names_only=True) is None:
        opened = found.events[0]
        assert isinstance(opened, Opened)
        case = small_knowledge().retired.case(Case(found.events))
        Consultation(small_knowledge(), small_machine()).assess(case, plan=False)


def _code(data: bytes) -> None:
    parse_code(data.decode("utf-8", "replace"))


def _quantity(data: bytes) -> None:
    text = data.decode("utf-8", "replace")
    with suppress(AdvisorError):
        number(text)
    with suppress(AdvisorError):
        volts(text.split())
    for parse in (parse_meter, parse_size):
        with suppress(ValueError):
            parse(text)


def _dialogue(data: bytes) -> None:
    """A session on a case that has a check and a load test: each line is typed at whatever is asked then."""
    first = Opened(complaint="motion-without-steering", machine=MACHINE)
    reading = Reading.model_validate(
        {"circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 23.7, "loaded": 23.2}
    )
    case = Case((first, Answered(check="coupling-grip", result="tight"), reading))
    asks = data[:1] == b"\x01"  # from its intake on
    if asks:
        case = Case((first.model_copy(update={"asks": True}),))
    session = Session.going_on(
        small_knowledge(), case, lambda *_: None, consultation=Consultation(small_knowledge(), small_machine())
    )
    for line in data.decode("utf-8", "replace").split("\n")[:6]:
        if session.over:
            break
        session.answer(line)
        session.take()


def _lines(data: bytes) -> None:
    with suppress(ValueError):
        reply(data.decode("utf-8", "replace"))


def _archive(data: bytes) -> None:
    unpack(_file(data, "in.zip"))


def _settings(data: bytes) -> None:
    read_settings(_file(data, "config.toml"))


def _whole_file(data: bytes) -> None:
    """A case file of the folder through the command that looks at all of it."""
    _file(data, f"{CASE}.jsonl")
    from advisor.commands.shared import Layers

    verify(Layers(SMALL), _folder(), CASE, as_json=True)


@cache
def targets() -> dict[str, Target]:
    """Every reader by name, with examples."""
    machine = yaml.safe_dump(MACHINE).encode()
    lines = [
        {"check": "coupling-grip", "result": "slips"}, {"correct": "coupling-grip", "result": "tight"}, {"note": "x"},
        {"reading": "load-test", "circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 23.7, "loaded": 23.1},
        {"repair": "high-resistance-splice", "place": "splice-7", "minutes": 50}, {"run": 6.5}, {"close": None, "by": "me"},
    ]  # fmt: skip
    told = {"format": 1, "title": "t", "machine": MACHINE, "complaint": "motion-without-steering", "codes": ["522990/10"],
            "intake": {"occurrences": 6, "hours": 14}, "answers": lines}  # fmt: skip
    field = {"format": 1, "title": "t", "story": "s", "complaint": "motion-without-steering", "facts": {},
             "ohms": {"splice-1": 2.0}, "fault": {"cause": "high-resistance-splice", "place": "splice-1"},
             "found": {"coupling-grip": {"tight": 0.5, "slips": 0.5}},
             "master": [{"check": "coupling-grip"}, {"repair": "high-resistance-splice"}]}  # fmt: skip
    with tempfile.TemporaryDirectory() as name:
        store = CaseStore(Path(name))
        with store.create(Opened(complaint="motion-without-steering"), small_knowledge().digest, MORNING) as made:
            made.append(Answered(check="coupling-grip", result="tight"), MORNING)
            made.append(Noted(text="x"), MORNING)
            case = made.data.replace(made.stored.case_id.encode(), CASE.encode())
        send(store, Path(name) / "x.zip", [made.stored.case_id])
        packed = (Path(name) / "x.zip").read_bytes()
    _, check = _copied()
    typed = (
        b"1", b"\x01522990/10\n1\n2\n6\n14 h", b"other load-test supply-a controller sensor\n23.7 23.1 load=9",
        b"correct coupling-grip = slips", b"repair high-resistance-splice\nsplice-7\ndone\nyes\nyes\n50 min",
        b"why\nmore\nskip why no time\nback\nback", b"missing load-resistor",
        b"retest coupling-grip\ntight\nrun 6.5\n0\nclose none\nyes\nme", b"stands\n1\nother supply\n1",
    )  # fmt: skip
    return {
        "machine": Target(_machine, (machine,)),
        "scenario": Target(_scenario, (yaml.safe_dump(told).encode(),)),
        "field": Target(_field, (yaml.safe_dump(field).encode(),)),
        "knowledge": Target(_knowledge, (check.read_bytes(),)),
        "rules": Target(_rules, ((SMALL / "rules" / "small.yaml").read_bytes(),)),
        "phrases": Target(_phrases, (PHRASES,)),
        "words": Target(_words, (b"It jumps at full left lock, not when cold. They put a new sensor in.", b"full left " * 60)),
        "case": Target(_case, (case,)),
        "verify": Target(_whole_file, (case,)),
        "code": Target(_code, (b"SPN 522990 FMI 10 OC 6", b"522990/10", b"B8 04 03 0A")),
        "quantity": Target(_quantity, (b"4,71 V", b"about 14 hours", b"0.5 % + 2 @ 0.001V", b"AWG 18", b"11.84 V 420mV")),
        "dialogue": Target(_dialogue, typed),
        "lines": Target(_lines, (json.dumps({"answer": "1"}).encode(), b"7", b'"x"')),
        "archive": Target(_archive, (packed,)),
        "settings": Target(_settings, (b'technician = "me"\n',)),
    }


def refused_or_taken(name: str, data: bytes) -> bool:
    """Reads bytes as a target does; whether they were taken, or else refused in words of one line. Everything else is raised."""
    try:
        targets()[name].read(data)
    except AdvisorError:
        return False
    return True
