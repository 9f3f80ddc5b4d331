"""A record's view to Markdown, HTML and JSON; the one home of jinja2."""

from __future__ import annotations

import dataclasses
import json
import re
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment

    from advisor.record.view import RecordView

_CONTROL = {i: None for i in (*range(32), *range(127, 160)) if chr(i) not in "\n\t"}
_MARKDOWN = re.compile(r"([\\`*_<>|#\[\]])")


def plain(value: object) -> str:
    """Text without control characters, line breaks as spaces."""
    return " ".join(str(value).translate(_CONTROL).split())


def escaped(value: object) -> str:
    """Text that Markdown shows as it is: its marks escaped, on one line."""
    return _MARKDOWN.sub(r"\\\1", plain(value))


def signed(value: float, digits: int = 1) -> str:
    """A number with its sign, a true minus in front of negative ones."""
    return f"{value:+.{digits}f}".replace("-", "\N{MINUS SIGN}")


@cache
def _environment(html: bool) -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("advisor.record"), autoescape=html, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        keep_trailing_newline=True,
    )  # fmt: skip
    made.filters |= {"md": escaped, "signed": signed, "per_cent": lambda share: f"{share:.0%}", "plain": plain}
    return made


def markdown(view: RecordView) -> str:
    """The record for a pager or a ticket."""
    text = _environment(html=False).get_template("record.md.j2").render(r=view)
    return re.sub(r"\n{3,}", "\n\n", text).strip() + "\n"


def html(view: RecordView) -> str:
    """The record as one file without any outside resource."""
    return _environment(html=True).get_template("record.html.j2").render(r=_cleaned(view))


def as_json(view: RecordView) -> str:
    """The record for other programs; record.schema.json beside this file describes it."""
    whole = {
        **view.numbers,
        "record": {k: v for k, v in dataclasses.asdict(view).items() if k not in ("numbers", "moves", "harness")},
    }
    return json.dumps(whole, indent=2, sort_keys=True, ensure_ascii=False, default=_stamp) + "\n"


def _stamp(value: Any) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    raise TypeError(f"{type(value).__name__} has no place in a record")


def _cleaned(value: Any) -> Any:
    """The same value with control characters out of every text: HTML has no way to hold them."""
    if isinstance(value, str):
        return value.translate(_CONTROL)
    if isinstance(value, tuple):
        return tuple(_cleaned(v) for v in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {f.name: _cleaned(getattr(value, f.name)) for f in dataclasses.fields(value)}
        return dataclasses.replace(value, **fields)
    return value
