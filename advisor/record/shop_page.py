"""The foreman's page: how a shop's closed cases went, what to look into, and what is still open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.model.tally import Decided, Month, Pace, ShopFigures
from advisor.record import pictures

MONTHS = 12  # the newest, in pictures and tables
CAUSES, MACHINES, PACES = 10, 8, 12  # rows of the pictures
OFTEN = 5  # times that a check was done before it is said to have changed nothing


@dataclass(frozen=True)
class OpenCase:
    """A case that is not closed, as the list of cases shows it."""

    case_id: str
    complaint: str
    machine: str
    begun: str  # day
    days: int  # since something was last written
    trouble: str = ""


@dataclass(frozen=True)
class Counted:
    """A field of counts: causes down, months or machines across."""

    across: tuple[str, ...]
    rows: tuple[tuple[str, tuple[int, ...]], ...]
    rest: int  # cases of further causes, which the field leaves out


@dataclass(frozen=True)
class ShopPage:
    """What the page shows, in the words of the knowledge. Pictures are SVG; empty where none can be drawn."""

    made: str
    closed: int
    months: tuple[Month, ...]
    whole: Month  # all of them together
    by_month: Counted
    by_machine: Counted
    slow: tuple[tuple[str, Pace], ...]  # title and pace, the most minutes lost first
    idle: tuple[tuple[str, Decided, float], ...]  # title, a check that never changed a decision, and its minutes in all
    open: tuple[OpenCase, ...]
    pictures: Mapping[str, str]


def shop_page(figures: ShopFigures, titles: Mapping[str, str], open_cases: Sequence[OpenCase], made: str) -> ShopPage:
    """The page of these figures; `titles` are those of causes and checks by their ids."""
    months = figures.months[-MONTHS:]
    names = [m.month for m in months]
    by_month = _counted([(m, c, n) for m, c, n in figures.causes if m in names], names, titles)
    often: dict[str, int] = {}
    for machine, _, n in figures.machines:
        often[machine] = often.get(machine, 0) + n
    machines = sorted(often, key=lambda m: (-often[m], m))[:MACHINES]
    by_machine = _counted([(m, c, n) for m, c, n in figures.machines if m in machines], machines, titles, empty="No machine file")
    paces = sorted((p for p in figures.paces if p.planned > 0), key=lambda p: (-abs(p.minutes - p.planned) * p.times, p.what))
    slow = tuple((titles.get(p.what, p.what), p) for p in paces[:PACES])
    minutes = {p.what: p.minutes for p in figures.paces if p.kind == "check"}
    idle = [
        (titles.get(c.check, c.check), c, c.done * minutes.get(c.check, 0.0))
        for c in figures.checks
        if c.done >= OFTEN and not c.changed
    ]
    return ShopPage(
        made, figures.closed, months, _together(months), by_month, by_machine, slow,
        tuple(sorted(idle, key=lambda row: (-row[2], row[0]))), tuple(open_cases), _pictures(months, by_month, by_machine, slow),
    )  # fmt: skip


def _counted(
    found: Sequence[tuple[str, str, int]], across: Sequence[str], titles: Mapping[str, str], *, empty: str = ""
) -> Counted:
    """The most frequent causes, and how often each came in each column."""
    counts: dict[str, dict[str, int]] = {}
    for column, cause, n in found:
        counts.setdefault(cause, {})[column] = n
    order = sorted(counts, key=lambda c: (-sum(counts[c].values()), c))
    rows = tuple((titles.get(c, c), tuple(counts[c].get(a, 0) for a in across)) for c in order[:CAUSES])
    return Counted(tuple(a or empty for a in across), rows, sum(sum(counts[c].values()) for c in order[CAUSES:]))


def _together(months: Sequence[Month]) -> Month:
    return Month(
        "all", sum(m.closed for m in months), sum(m.proven for m in months), sum(m.first_right for m in months),
        sum(m.came_back for m in months), sum(m.minutes for m in months), sum(m.timed for m in months),
        sum(m.planned for m in months),
    )  # fmt: skip


def _pictures(months: Sequence[Month], by_month: Counted, by_machine: Counted, slow: Sequence[tuple[str, Pace]]) -> dict[str, str]:
    if not months or not pictures.installed():
        return {}
    names = [m.month for m in months]
    found = {
        "right": pictures.bars(
            "right", names,
            [("right the first time", [100 * m.first_right / m.closed for m in months]),
             ("came back", [100 * m.came_back / m.closed for m in months])],
            "cases in %",
        ),
    }  # fmt: skip
    if any(m.planned for m in months):
        rows = [("really", [m.timed / m.closed for m in months]), ("as planned", [m.planned / m.closed for m in months])]
        found["minutes"] = pictures.bars("minutes", names, rows, "minutes a case")
    for name, field in (("causes", by_month), ("machines", by_machine)):
        if field.rows:
            across = [pictures.shortened(a, 18) for a in field.across]
            found[name] = pictures.grid(name, across, [t for t, _ in field.rows], [n for _, n in field.rows])
    if slow:
        values = [(p.planned, p.minutes) for _, p in slow]
        found["pace"] = pictures.pairs("pace", [t for t, _ in slow], values, "as planned", "really")
    return found
