"""What was known before the first check, and where the case stands now."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.errors import InputError
from advisor.model.machine import layout_of
from advisor.record.material import Material
from advisor.record.steps import Place, Why, opening_whys, places

LEADERS = 5


@dataclass(frozen=True)
class CodeView:
    """A trouble code as typed, and what its failure mode says in plain words."""

    raw: str
    spn: int | None
    fmi: int | None
    occurrences: int | None
    says: str


@dataclass(frozen=True)
class Known:
    """The start of a case."""

    complaint: str
    complaint_words: str
    make_sure: str
    machine: str
    generic: bool
    layout: str  # which generic layout, in words; empty with a machine file
    machine_words: tuple[str, ...]
    codes: tuple[CodeView, ...]
    intake: tuple[tuple[str, str], ...]
    occurrences: int | None
    hours: float | None
    missing: tuple[str, ...]  # tools, setups, people
    why: tuple[Why, ...]
    ranking: tuple[Place, ...]


@dataclass(frozen=True)
class OutcomeOf:
    """What one result of the next step would lead to."""

    says: str
    chance: float
    leads_to: str
    share: float


@dataclass(frozen=True)
class Next:
    """The next step as the program would have it."""

    kind: str
    title: str
    minutes: float
    question: str
    how: tuple[str, ...]
    moves: tuple[str, ...]
    reason: tuple[str, ...]
    outcomes: tuple[OutcomeOf, ...]


@dataclass(frozen=True)
class Now:
    """Where the case stands: the head of the ranking, and how well it bears doubt."""

    ranking: tuple[Place, ...]
    robustness: float | None
    advice: tuple[str, ...]
    next: Next | None


def known(m: Material) -> Known:
    """What was known before the first check."""
    complaint = m.knowledge.complaints.get(m.opened.complaint)
    return Known(
        complaint.title if complaint else m.opened.complaint,
        complaint.asks if complaint else "",
        complaint.first if complaint else "",
        m.machine.title, m.machine.generic, layout_of(m.machine), _machine_words(m),
        tuple(_code(m, text) for text in m.opened.codes),
        tuple(_intake(m, question, given) for question, given in m.opened.intake.items()),
        m.opened.occurrences, m.opened.hours,
        (*map(m.limit_title, m.opened.unavailable), *(["A second person"] if m.opened.alone else [])),
        opening_whys(m), places(m.start, count=LEADERS),
    )  # fmt: skip


def _machine_words(m: Material) -> tuple[str, ...]:
    sensor, test = m.machine.sensor, m.machine.load_test
    low, high = sensor.band_volts
    load = f"{test.load_ohms:g} ohm" if test.load_ohms is not None else f"{test.load_amps:g} A"
    tracks = "one track" if sensor.tracks == 1 else f"{sensor.tracks} tracks"
    return (
        f"{m.machine.nominal_volts} V system",
        f"{sensor.title}: {tracks}, {sensor.supply_volts:g} V supply, "
        f"output {low:g} V to {high:g} V over {sensor.span_degrees:g} degrees",
        f"A motion of {sensor.plausibility_degrees:g} degrees that nobody steered sets the code",
        f"Load test with {load}; {test.limit_volts_per_section:g} V allowed for each connection section "
        "unless a circuit has its own figure",
    )


def _code(m: Material, text: str) -> CodeView:
    from advisor.model.trouble_code import parse_code

    try:
        code = parse_code(text)
    except InputError:  # a record must not fail on a code that an older version let pass
        return CodeView(text, None, None, None, "Not a code that can be read.")
    mode = m.knowledge.fault_modes.get(code.fmi)
    return CodeView(code.raw, code.spn, code.fmi, code.occurrences, mode.says if mode else "No words for this failure mode here.")


def _intake(m: Material, question: str, given: tuple[str, ...]) -> tuple[str, str]:
    entry = m.knowledge.intake.get(question)
    words = {r.id: r.says for r in entry.results} if entry else {}
    return entry.question if entry else question, ", ".join(words.get(g, g) for g in given)


def standing_now(m: Material) -> Now:
    return Now(places(m.final, m.start, LEADERS), m.final.robustness, m.final.advice, _next(m))


def _next(m: Material) -> Next | None:
    step = m.final.next
    if step is None:
        return None
    check, cause = m.check(step.id), m.knowledge.causes.get(step.id)
    how = cause.repair.steps if step.kind == "repair" and cause else check.steps if check else ()
    question = check.question if check and step.kind != "repair" else ""
    title = step.title
    if step.kind == "retest" and step.circuit:
        title = f"{title}: {step.circuit} from {step.start} to {step.end}"
    elif step.kind == "retest" and step.place:
        title = f"{title} ({m.machine.told(step.place)})"
    outcomes = tuple(OutcomeOf(o.says, o.chance, o.leads_to, o.share) for o in step.outcomes)
    moves = tuple(m.move_title(x.move, x.point) for leg in step.legs for x in leg.moves)
    return Next(step.kind, title, step.minutes, question, how, moves, step.reason, outcomes)
