"""A record's view, or two side by side, to Markdown, HTML and JSON, and the knowledge's map and a trial
to HTML; the one home of jinja2.

Every value that a template prints passes one function first, so that no text from outside (notes, names, knowledge) can
break out: escaped for the format, without control characters and without marks that turn the direction of writing.
"""

from __future__ import annotations

import dataclasses
import json
import math
import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from advisor.evidence.map import MEANING
from advisor.model.knowledge import layers
from advisor.record.material import per_cent
from advisor.record.pager import paged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from jinja2 import Environment

    from advisor.evidence.map import Section
    from advisor.record.compare import Comparison, Row
    from advisor.record.layered import Drawn
    from advisor.record.shop_page import ShopPage
    from advisor.record.view import RecordView

_DIRECTION = (0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))
_LEFT_OUT = {i: None for i in (*range(32), *range(127, 160), *_DIRECTION) if chr(i) not in "\n\t"}
_LINE_BREAKS = {0x2028: "\n", 0x2029: "\n"}
_HALVES = re.compile(r"[\ud800-\udfff]")  # of a character: they cannot be written as UTF-8
_MARKS = re.compile(r"([\\`*_{}\[\]<>|#~&$])")
_LIST_MARK = re.compile(r"^(?:[-+=](?=[-+=\s]|$)|\d+(?=[.)](?:\s|$)))")
NOT_IN_RECORD = (
    "numbers",
    "moves",
    "harness",
    "narrow_harness",
    "trail",
    "said",
    "job",
)  # fields of the view that the JSON record does not repeat


def cleaned(text: str) -> str:
    """Text without control characters, turned writing direction and halves of characters; line breaks stay."""
    return _HALVES.sub("\N{REPLACEMENT CHARACTER}", text.translate(_LINE_BREAKS).translate(_LEFT_OUT))


@lru_cache(maxsize=4096)  # a long record says the names of causes and the words of rules again and again
def escaped(text: str) -> str:
    """Text that Markdown shows as it is: on one line, its marks escaped, also those that only count at a line's start."""
    kept = cleaned(text)
    line = _MARKS.sub(r"\\\1", " ".join(kept.split()))
    found = _LIST_MARK.match(line)
    if found is not None:
        at = found.end() if line[0].isdigit() else 0
        line = f"{line[:at]}\\{line[at:]}"
    before, after = (" " if edge.isspace() else "" for edge in (kept[:1], kept[-1:]))
    return f"{before}{line}{after}"


def signed(value: float, digits: int = 1) -> str:
    """A number with its sign, a true minus in front of negative ones; zero has none."""
    shown = f"{value:+.{digits}f}"
    return f"{0:.{digits}f}" if float(shown) == 0 else shown.replace("-", "\N{MINUS SIGN}")


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


@cache
def _environment(html: bool) -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from jinja2.filters import FILTERS

    def printed(value: Any) -> Any:
        if not isinstance(value, str) or hasattr(value, "__html__"):  # a number, or text that has been here before
            return value
        # Markdown escapes with backslashes: marked as safe, so that it is not escaped as HTML on top.
        return cleaned(value) if html else FILTERS["safe"](escaped(value))

    made = Environment(
        loader=PackageLoader("advisor.record"), autoescape=True, finalize=printed,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True,
    )  # fmt: skip
    made.filters["drawing"] = FILTERS["safe"]  # what matplotlib drew; it escapes the labels itself
    made.filters |= {"signed": signed, "per_cent": per_cent, "sentence": _sentence, "layers": layers, "thousands": "{:,}".format}
    return made


def markdown(view: RecordView) -> str:
    """The record for a pager or a ticket."""
    return _plain("record.md.j2", r=view)


def _plain(template: str, **given: Any) -> str:
    text = _environment(html=False).get_template(template).render(**given)
    return paged(re.sub(r"\n{3,}", "\n\n", text).strip()) + "\n"


def html(view: RecordView, paper: str = "") -> str:
    """The record as one file without any outside resource. `paper` is the size it asks a printer for: A4, Letter or none."""
    return _environment(html=True).get_template("record.html.j2").render(r=view, paper=paper)


def map_page(sections: Sequence[Section]) -> str:
    """The map of checks and causes as one file without any outside resource."""
    return _environment(html=True).get_template("map.html.j2").render(sections=sections, meaning=MEANING)


def states_html(variables: Sequence[Drawn], rules: Sequence[Drawn]) -> str:
    """How a machine can stand and what must never hold together, as one file without any outside resource."""
    return _environment(html=True).get_template("states.html.j2").render(variables=variables, rules=rules)


def compared_markdown(comparison: Comparison) -> str:
    """Two cases side by side, for a pager."""
    return _plain("compare.md.j2", c=comparison)


def compared_html(comparison: Comparison) -> str:
    """Two cases side by side, as one file without any outside resource."""
    return _environment(html=True).get_template("compare.html.j2").render(c=comparison, paper="")


def compared_json(c: Comparison) -> str:
    """Two cases side by side for other programs: format, cases, parting, rows and checks."""

    def row(r: Row) -> dict[str, Any]:
        return {**dataclasses.asdict(r), "differs": r.differs}

    whole = {
        "format": 1, "cases": [c.left.case_id, c.right.case_id], "parting": dataclasses.asdict(c.parting) if c.parting else None,
        "rows": [row(r) for r in c.rows], "checks": [row(r) for r in c.checks],
    }  # fmt: skip
    return _written(whole)


def shop_html(page: ShopPage) -> str:
    """The foreman's page as one file without any outside resource."""
    return _environment(html=True).get_template("shop.html.j2").render(p=page)


def trial_page(report: Mapping[str, Any]) -> str:
    """A trial's figures, as its JSON holds them, as one file without any outside resource."""
    from advisor.record.curves import minutes, reliability

    template = _environment(html=True).get_template("trial.html.j2")
    return template.render(r=report, minutes=minutes(report), reliability=reliability(report))


def as_json(view: RecordView) -> str:
    """The record for other programs; record.schema.json beside this file describes it."""
    record = {f.name: getattr(view, f.name) for f in dataclasses.fields(view) if f.name not in NOT_IN_RECORD}
    return _written({**view.numbers, "record": record})


def _written(whole: dict[str, Any]) -> str:
    return json.dumps(_for_json(whole), indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"


def _for_json(value: Any) -> Any:
    """The same value with its texts cleaned; a number that is none (a circuit through which nothing came) is null."""
    if isinstance(value, str):
        return cleaned(value)
    if dataclasses.is_dataclass(value):
        return {f.name: _for_json(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {cleaned(k): _for_json(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_for_json(v) for v in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
