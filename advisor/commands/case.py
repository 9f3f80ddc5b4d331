"""A case begun, gone on with, listed, shown and written as a record."""

from __future__ import annotations

import json
import os
import shlex
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.commands.own import own_meter, screen
from advisor.commands.shared import Layers, case_store, load_knowledge, now, paced, page_out, print_out
from advisor.commands.stored import consultation_of, named_now
from advisor.commands.warming import warm_up
from advisor.errors import CaseDamaged, EndOfInput, ExitCode, InputError, NotFound, StoreError, UsageError, nearest
from advisor.model.case import Case, KnowledgeChanged, Opened, Reopened, fold

if TYPE_CHECKING:
    from advisor.commands.keeping import Keeping
    from advisor.model.knowledge import Knowledge
    from advisor.model.machine import Machine
    from advisor.model.scenario import Scenario
    from advisor.session.session import Session
    from advisor.store.folder import CaseStore
    from advisor.store.listing import CaseInfo
    from advisor.store.open_case import OpenCase, StoredCase
    from advisor.terminal.client import Answerer
    from advisor.terminal.environment import Terminal

    Front = Callable[[Session, Sequence[Keeping]], None]  # plays a session; the case is in the list once it is begun


def start(
    layers: Layers, data_dir: Path | None, machine_file: Path | None, complaint: str | None,
    answers_file: Path | None, missing: Sequence[str], *, plain: bool, json_lines: bool = False,
) -> ExitCode:  # fmt: skip
    """Begins a case and runs its dialogue. A scenario is tried whole first."""
    from advisor.terminal.client import Echoed, Person, play

    terminal = screen(plain=plain)
    scenario, machine = _read(answers_file, machine_file)
    meter = own_meter() if scenario is None else ""  # a scenario names its own
    knowledge = load_knowledge(layers)
    if scenario is not None:
        from advisor.consultation.scenario import events_of

        scenario = knowledge.retired.scenario(scenario.model_copy(update={"machine": machine}))
        for _ in events_of(knowledge, scenario):
            pass  # raises for the first answer that cannot be, before a case is begun
    if complaint is not None and complaint not in knowledge.complaints:
        raise UsageError(f"no complaint '{complaint}'", nearest(complaint, knowledge.complaints))
    limits = _limits(knowledge, (*missing, *(scenario.unavailable if scenario else ())))
    fixed: dict[str, Any] = {
        "unavailable": tuple(m for m in limits if m != "second-person"),
        "alone": "second-person" in limits,
    }
    if scenario is not None and scenario.alone:
        fixed["alone"] = True
    if machine is not None:
        fixed["machine"] = machine.model_dump(mode="json", by_alias=True, exclude_none=True)
    if json_lines:
        from advisor.terminal.environment import Terminal

        if scenario is not None:
            raise UsageError("--json-lines takes its answers from standard input", "Leave --answers out.")
        return _begin(
            Terminal(output=sys.stderr, blocks=False), _lines, knowledge, case_store(data_dir), complaint, fixed, meter=meter
        )
    answerer: Answerer = Person(paced(terminal))
    if scenario is not None:
        from advisor.session.script import Script

        answerer = Echoed(terminal, Script(scenario))

    def front(session: Session, begun: Sequence[Keeping]) -> None:
        play(terminal, answerer, session)

    return _begin(terminal, front, knowledge, case_store(data_dir), complaint, fixed, asks=scenario is None, meter=meter)


def _read(answers_file: Path | None, machine_file: Path | None) -> tuple[Scenario | None, Machine | None]:
    """The scenario, and the machine of its own file or of the scenario; what reads files is loaded only for a file."""
    if answers_file is None and machine_file is None:
        return None, None
    from advisor.library.files import read_machine, read_scenario

    scenario = read_scenario(answers_file) if answers_file else None
    return scenario, read_machine(machine_file) if machine_file else scenario.machine if scenario else None


def _limits(knowledge: Knowledge, missing: Sequence[str]) -> tuple[str, ...]:
    if not missing:
        return ()
    from advisor.consultation.ground import limits

    known = limits(knowledge)
    for name in missing:
        if name not in known:
            raise UsageError(f"'{name}' is no tool or state of the machine", nearest(name, known))
    return tuple(missing)


def _begin(
    terminal: Terminal, front: Front, knowledge: Knowledge, store: CaseStore, complaint: str | None, fixed: dict[str, Any],
    *, asks: bool = False, meter: str = "",
) -> ExitCode:  # fmt: skip
    """The complaint, then a case file, then everything else: each answer is on the disk before the next question."""
    from contextlib import ExitStack

    from advisor.commands.keeping import Keeping
    from advisor.consultation.intake_told import machine_says
    from advisor.model.machine import Machine
    from advisor.session.session import Session
    from advisor.store import early

    store.prove_writable()  # before anybody has typed anything
    terminal.line("Advisor for steering and position sensor faults. Enter: not known. Ctrl-C saves and leaves.")
    terminal.line("! Before anything: park safely, know the local rules and the maker's instructions.", hang=2)
    if "machine" not in fixed:
        terminal.line("No machine file was given: a generic layout stands in. Two questions on the wiring choose it.", hang=2)
    if sys.stdin.isatty():
        warm_up(knowledge)
    machine = Machine.model_validate(fixed["machine"]) if fixed.get("machine") else None
    begun: list[Keeping] = []
    with ExitStack() as stack:

        def begin(name: str) -> tuple[Opened, Callable[..., None]]:
            opened = Opened(complaint=name, intake=machine_says(knowledge, machine), asks=True, **fixed)
            open_case = store.create(opened, knowledge.digest, now())
            keeping = Keeping(terminal, store, open_case, asks=asks)
            stack.callback(keeping.close)
            begun.append(keeping)
            terminal.line(f"Case {open_case.stored.case_id} is saved as it grows: {open_case.stored.path}", hang=2)
            return opened, keeping.append

        session = Session.fresh(knowledge, begin, complaint, waiting=early.waiting(store.folder) if asks else ())
        _furnish(session, store, knowledge, meter)
        waited = tuple(session.waiting)
        try:
            return _play(terminal, front, session, begun)
        finally:
            left = (*session.waiting, *session.unsaved)
            if left != waited:
                early.keep(store.folder, left)


def _furnish(session: Session, store: CaseStore, knowledge: Knowledge, meter: str) -> None:
    """What a session may ask of this computer."""
    from advisor.commands.similar import seen_before

    session.room.seen, session.room.meter, session.room.read_machine = seen_before(store, knowledge), meter, _machine_named


def _lines(session: Session, begun: Sequence[Keeping]) -> None:
    """A session as lines of JSON on standard output and input."""
    from advisor.session.lines import converse

    def write(line: str) -> None:
        sys.stdout.write(line + "\n")
        sys.stdout.flush()

    converse(session, write, lambda: sys.stdin.readline() or None, lambda: begun[0].open_case.stored.case_id if begun else None)


def _play(terminal: Terminal, front: Front, session: Session, begun: Sequence[Keeping]) -> ExitCode:
    """A session in front of somebody; `terminal` takes what is said around it. Whatever ends it, the case is on the disk."""
    from advisor.session.wording import heads

    code = ExitCode.INTERRUPTED
    try:
        front(session, begun)
        code = session.code
    except EndOfInput:  # while nothing could be saved
        code = ExitCode.PAUSED
    except KeyboardInterrupt:
        terminal.line()
    if not begun:
        notes = len(session.unsaved)
        waits = "The note you typed waits" if notes == 1 else f"The {notes} notes you typed wait"
        terminal.line(f"{waits} for the next case." if notes else "Nothing was begun, so nothing was saved.")
        return code
    keeping = begun[0]
    if session.last_ranking:
        with suppress(StoreError):  # a help for the next time, and no part of the case
            name = keeping.open_case.stored.case_id
            keeping.store.keep_ranking(name, session.room.knowledge.digest, heads(session.last_ranking))
    _saved(terminal, keeping)
    return code


def _saved(terminal: Terminal, keeping: Keeping) -> None:
    from advisor.store.folder import default_folder

    stored = keeping.open_case.stored
    named = os.environ.get("ADVISOR_DATA_DIR")
    elsewhere = keeping.moved or keeping.store.folder != (Path(named) if named else default_folder())
    name, where = stored.case_id, f" --data-dir {shlex.quote(str(keeping.store.folder))}" if elsewhere else ""
    closed = fold(stored.case).closed is not None
    terminal.line("Saved." if closed else f"Saved. Go on with: advisor resume {name}{where}", hang=2)
    terminal.line(f"The record: advisor record {name}{where} --format html --out {name}.html", hang=2)


def resume(
    layers: Layers, data_dir: Path | None, case: str | None, machine_file: Path | None = None, *, plain: bool, copy: bool = False
) -> ExitCode:
    """Goes on with a case, the newest when none is named; with `copy`, with what stands before a damage in it.

    Where a machine file is named, the case goes on with that machine.
    """
    from advisor.commands.keeping import Keeping
    from advisor.session.session import Session
    from advisor.terminal.client import Person, play

    store, meter = case_store(data_dir), own_meter()
    machine = _read(None, machine_file)[1]
    name = store.newest() if case is None else store.resolve(case)
    terminal = screen(plain=plain)
    if copy:
        name = store.copy_sound(name)
        terminal.line(f"The entries before the damage were copied to case {name}. The damaged file stays as it is.", hang=2)
    with store.open(name) as open_case:
        for message in open_case.messages:
            terminal.line(f"Note: {message}", hang=2)
        knowledge = load_knowledge(layers)
        person = Person(paced(terminal))
        terminal.line(f"Case {name}: {_complaint(knowledge, open_case.case)}", "bold")
        was_closed = fold(open_case.case).closed is not None
        if was_closed and not _opened_again(terminal, person, knowledge, open_case):
            return ExitCode.OK
        renew(terminal, store, knowledge, open_case)
        told = named_now(knowledge, open_case.stored)
        keeping = Keeping(terminal, store, open_case)
        session = Session.going_on(
            knowledge, told.case, keeping.append, consultation=consultation_of(knowledge, told), resumed=True,
            reopened=was_closed or _just_reopened(told.case), machine=machine,
        )  # fmt: skip
        _furnish(session, store, knowledge, meter)
        try:
            return _play(terminal, lambda session, begun: play(terminal, person, session), session, [keeping])
        finally:
            keeping.close()


def _just_reopened(case: Case) -> bool:
    """Whether nothing was said since the case was opened again."""
    last = next(event for event in reversed(case.events) if not isinstance(event, KnowledgeChanged))
    return isinstance(last, Reopened)


def _opened_again(terminal: Terminal, answerer: Answerer, knowledge: Knowledge, open_case: OpenCase) -> bool:
    """Asks why a closed case is opened again; False when it stays closed."""
    from advisor.session.session import Session
    from advisor.terminal.client import play

    told = named_now(knowledge, open_case.stored)
    session = Session.reopening(
        knowledge, told.case, lambda event: open_case.append(event, now()), consultation_of(knowledge, told)
    )
    play(terminal, answerer, session)
    return not session.closed


def _machine_named(name: str) -> Machine:
    """A machine file whose name was typed in a dialogue. Raises InputError."""
    from advisor.library.files import read_machine

    try:
        return read_machine(Path(name).expanduser())
    except NotFound as error:
        raise InputError(error.what, error.hint) from None


def renew(terminal: Terminal, store: CaseStore, knowledge: Knowledge, open_case: OpenCase) -> None:
    """Shows and writes down that a case goes on with other knowledge than before, where it does."""
    from advisor.terminal import views

    stored = named_now(knowledge, open_case.stored)
    if stored.knowledge_digest != knowledge.digest:
        before = store.kept_ranking(stored.case_id, stored.knowledge_digest)
        now_ranked = consultation_of(knowledge, stored).assess(stored.case, plan=False).ranking
        views.weighed_anew(terminal, before, now_ranked)
        open_case.append(KnowledgeChanged(digest=knowledge.digest, before=before), now())


def _complaint(knowledge: Knowledge, case: Case) -> str:
    """The complaint that a case goes on with: the one that it began with, or the one that was found right later."""
    opened = fold(case).opened
    assert opened is not None
    entry = knowledge.complaints.get(opened.complaint)
    return entry.title if entry else opened.complaint


def cases(data_dir: Path | None, *, as_json: bool) -> ExitCode:
    """Lists the cases, newest first, and how old those of others are."""
    from advisor.store.sync import in_step

    store = case_store(data_dir)
    infos = store.list()
    if as_json:
        rows = [
            {
                **i._asdict(),
                "path": str(store.path(i.case_id)),
                "created": i.created and i.created.isoformat(),
                "changed": i.changed and i.changed.isoformat(),
            }
            for i in infos
        ]
        print_out(json.dumps({"format": 1, "cases": rows}, indent=2, sort_keys=True))
        return ExitCode.OK
    with page_out(screen(plain=True)) as terminal:
        _list(terminal, infos)
        for name, step in in_step(store.folder).items():
            terminal.line(f"In step with {name} as of {step.at:%Y-%m-%d %H:%M} UTC.", hang=2)
    return ExitCode.OK


def _list(terminal: Terminal, infos: Sequence[CaseInfo]) -> None:
    abouts: dict[tuple[str, str], str] = {}  # a full folder has few of them, again and again
    for i in infos:
        when = f"{i.changed:%Y-%m-%d %H:%M}" if i.changed else "unknown time"
        state = i.trouble or ("closed" if i.closed else f"open, {i.events} events")
        terminal.line(f"{i.case_id}  {when}  {state}", hang=2)
        told = (i.complaint, i.machine)
        if told not in abouts:
            abouts[told] = "; ".join(x for x in (i.complaint.replace("-", " ").capitalize(), i.machine) if x)
        if abouts[told]:
            terminal.line(abouts[told], indent=2)
    if not infos:
        terminal.line("No case yet. Begin one with: advisor start", hang=2)


def show(layers: Layers, data_dir: Path | None, case: str | None, *, as_json: bool, plain: bool) -> ExitCode:
    """Ranking, next step and trail of a case, the newest when none is named."""
    from advisor.record.report import report
    from advisor.terminal import stage, views

    store = case_store(data_dir)
    knowledge = load_knowledge(layers)
    stored = named_now(knowledge, store.read(store.newest() if case is None else store.resolve(case), damaged=True))
    consultation = consultation_of(knowledge, stored)
    if as_json:
        print_out(json.dumps(report(consultation, stored.case), indent=2, sort_keys=True))
        refuse_damage(stored)
        return ExitCode.OK
    terminal = screen(plain=plain)
    assessment = consultation.assess(stored.case)
    for message in stored.messages:
        terminal.line(f"Note: {message}", hang=2)
    terminal.line(f"Case {stored.case_id}: {_complaint(knowledge, stored.case)}", "bold")
    if stored.knowledge_digest != knowledge.digest:
        views.weighed_anew(terminal, store.kept_ranking(stored.case_id, stored.knowledge_digest), assessment.ranking)
    step = assessment.next
    if step is not None:
        terminal.rule(views.heading(step))
        terminal.line(step.title, "bold")
        for text in step.reason:
            terminal.line(text)
    stage.show(terminal, consultation, stored.case, assessment)
    refuse_damage(stored)
    return ExitCode.OK


def refuse_damage(*found: StoredCase) -> None:
    """After what is whole was shown: the damage is what was found. Raises CaseDamaged."""
    from advisor.store.folder import go_on_hint

    for stored in found:
        if stored.damage is not None:
            raise CaseDamaged(str(stored.damage), go_on_hint(stored.case_id))
