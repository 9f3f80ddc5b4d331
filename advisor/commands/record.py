"""The command that writes a case's record, or two side by side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.case import refuse_damage
from advisor.commands.own import own_settings, progress
from advisor.commands.shared import (
    Layers,
    case_store,
    check_out,
    load_knowledge,
    now,
    print_aside,
    print_out,
    write_bytes,
    write_whole,
)
from advisor.commands.stored import consultation_of, named_now
from advisor.errors import ExitCode, UsageError, nearest

if TYPE_CHECKING:
    from advisor.record.view import RecordView
    from advisor.store.open_case import StoredCase

FORMATS = ("md", "html", "json", "pdf")


def record(
    layers: Layers, data_dir: Path | None, case: str | None, pair: tuple[str, str] | None, form: str | None,
    out: Path | None, details: Sequence[str], *, over: bool = False, shown: bool = False,
) -> ExitCode:  # fmt: skip
    """Writes a record to a file or to standard output, and opens it where `shown` asks for that.

    Without a format, the ending of the file decides. A PDF and a page that is opened need a file: it is named after the case
    where none is given.
    """
    from advisor.record.view import build

    chosen = _format(form, out, shown=shown)
    if case is not None and pair is not None:
        raise UsageError("a case was named beside --compare", "Write advisor record CASE, or advisor record --compare A B.")
    settings = own_settings()
    head = {**{k: v for k, v in settings.items() if k in ("technician", "shop")}, **_details(details)}
    store = case_store(data_dir)
    names = [store.resolve(name) for name in pair] if pair else [store.resolve(case) if case is not None else store.newest()]
    if out is None and (chosen == "pdf" or shown):
        out = Path(f"{'-and-'.join(names)}.{chosen}")
    if out is not None:
        check_out(out, "--out", replace=over)
    knowledge = load_knowledge(layers)
    found = [named_now(knowledge, store.read(name, damaged=True)) for name in names]
    with progress("Working out the record"):
        views = [build(consultation_of(knowledge, s), s.case, s.case_id, now(), _head(s, head)) for s in found]
    paper = settings.get("paper", "A4" if chosen == "pdf" else "")
    text = _rendered(views, chosen, paper)
    if settings.get("numbers") == "comma" and chosen != "json":
        text = _with_comma(text, chosen, found, head)
    if out is None:
        print_out(text)
        refuse_damage(*found)
        return ExitCode.OK
    if chosen == "pdf":
        from advisor.commands.printing import pdf_of

        write_bytes(out, pdf_of(text), replace=over)
    else:
        write_whole(out, text, replace=over)
    print_aside(f"Written: {out}")
    if shown:
        from advisor.commands.printing import show_file

        show_file(out)
    refuse_damage(*found)
    return ExitCode.OK


def _with_comma(text: str, form: str, found: Sequence[StoredCase], head: dict[str, str]) -> str:
    """A record with a decimal comma in its numbers, but not in what somebody typed."""
    from advisor.plain import with_comma
    from advisor.record.numbers import page_with_comma, typed_words
    from advisor.record.render import escaped

    typed = typed_words(*(s.case for s in found), details=head)
    return with_comma(text, map(escaped, typed)) if form == "md" else page_with_comma(text, typed)


def _rendered(views: Sequence[RecordView], chosen: str, paper: str) -> str:
    """One record as text, or two side by side; a PDF is made from the page."""
    from advisor.record import render
    from advisor.record.compare import compare

    if len(views) > 1:
        makers = {"md": render.compared_markdown, "json": render.compared_json}
        return makers.get(chosen, render.compared_html)(compare(*views))
    (view,) = views
    return render.markdown(view) if chosen == "md" else render.as_json(view) if chosen == "json" else render.html(view, paper)


def _head(stored: StoredCase, told: dict[str, str]) -> dict[str, str]:
    """The record's head with the check of the case file; a record of a damaged case says so itself."""
    damage = {} if stored.damage is None else {"DAMAGED FILE": " ".join(stored.messages)}
    return {**damage, **told, "Check code of the case": f"{stored.check} after event {len(stored.case.events) - 1}"}


def _format(form: str | None, out: Path | None, *, shown: bool) -> str:
    """The format asked for, else that of the file's ending, else one that can be looked at."""
    if form is not None and form not in FORMATS:
        raise UsageError(f"no format '{form}'", nearest(form, FORMATS) or "Choose md, html, json or pdf.")
    ending = out.suffix.lower().lstrip(".") if out is not None else ""
    ending = "html" if ending == "htm" else ending
    return form or (ending if ending in FORMATS else "html" if shown else "md")


def _details(given: Sequence[str]) -> dict[str, str]:
    """The details for the record's head. A key that fits no blank is told, for it may be a slip."""
    from advisor.record.view import BLANKS, SIGNATURES

    known = dict.fromkeys((*BLANKS, *SIGNATURES))
    found = {}
    for item in given:
        key, mark, value = item.partition("=")
        if not mark or not key.strip():
            raise UsageError(f"'{item}' is not key=value", "Write --set order=4711, for example.")
        if key not in known:
            near = nearest(key, known) or f"The blanks are: {', '.join(known)}."
            print_aside(f"'{key}' is no blank of the record. It gets a line of its own. {near}")
        found[key] = value
    return found
