"""The command that writes the foreman's page."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.closed_index import closed_index
from advisor.commands.own import page_in_own_numbers, progress
from advisor.commands.shared import Layers, case_store, check_out, load_knowledge, now, print_aside, write_whole
from advisor.errors import ExitCode

if TYPE_CHECKING:
    from advisor.model.knowledge import Knowledge
    from advisor.record.shop_page import OpenCase
    from advisor.store.listing import CaseInfo


def shop_page(layers: Layers, data_dir: Path | None, html: Path) -> ExitCode:
    """Writes the page of this computer's cases; the minutes planned are those of the words, not those counted."""
    from advisor.experience.fit import given_minutes
    from advisor.record.render import shop_html
    from advisor.record.shop_page import shop_page as page

    check_out(html, "--html")
    knowledge, store, today = load_knowledge(layers, counted=False), case_store(data_dir), now()
    index = closed_index(store, knowledge)
    with progress("Reading closed cases") as told:
        trouble = index.refresh()
        told(1, "Counting")
        figures = index.shop(given_minutes(knowledge))
    for text in trouble:
        print_aside(f"Left out: {text}")
    titles = {c.id: c.title for c in knowledge.causes.values()} | {c.id: c.title for c in knowledge.checks.values()}
    waiting = [_open(knowledge, info, today) for info in store.list() if not info.closed]
    waiting.sort(key=lambda c: (-c.days, c.case_id))
    write_whole(html, page_in_own_numbers(shop_html(page(figures, titles, waiting, f"{today:%Y-%m-%d}"))), "--html")
    print_aside(f"Written: {html}")
    return ExitCode.OK


def _open(knowledge: Knowledge, info: CaseInfo, today: datetime) -> OpenCase:
    from advisor.record.shop_page import OpenCase

    complaint = knowledge.complaints.get(info.complaint)
    last = info.changed or info.created
    return OpenCase(
        info.case_id, complaint.title if complaint is not None else info.complaint, info.machine,
        f"{info.created:%Y-%m-%d}" if info.created else "", max(0, (today - last).days) if last else 0, info.trouble,
    )  # fmt: skip
