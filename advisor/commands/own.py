"""What the user set once for all cases, as the commands need it."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from advisor.errors import AdvisorError, InputError
from advisor.plain import with_comma

if TYPE_CHECKING:
    from advisor.terminal.environment import Terminal
    from advisor.terminal.progress import Progress


def own_settings() -> dict[str, str]:
    """Every setting that has a value. Raises InputError for a file that is not in order."""
    from advisor.store.settings import read_settings, settings_file

    return read_settings(settings_file())


def accessible(settings: dict[str, str]) -> bool:
    """Whether a screen reader reads the screens. The environment has the last word."""
    given = os.environ.get("ACCESSIBLE")
    return given == "1" if given else settings.get("accessible") == "yes"


def screen(*, plain: bool = False) -> Terminal:
    """The terminal of this process, as the user wants it."""
    from advisor.terminal.environment import Terminal

    settings = own_settings()
    return Terminal.of_process(plain=plain, accessible=accessible(settings), comma=settings.get("numbers") == "comma")


def progress(what: str, whole: int = 0, parts: str = "") -> Progress:
    """What says how far long work has come, as the user wants it."""
    from advisor.terminal.progress import Progress

    return Progress(what, whole, parts, spoken=os.environ.get("TERM") == "dumb" or accessible(own_settings()))


def with_own_numbers(text: str) -> str:
    """A text with numbers as the user writes them; unchanged where the settings cannot be read."""
    if "." not in text:
        return text
    try:
        return with_comma(text) if own_settings().get("numbers") == "comma" else text
    except AdvisorError:  # said by the command itself
        return text


def page_in_own_numbers(page: str) -> str:
    """An HTML page with numbers as the user writes them."""
    from advisor.record.numbers import page_with_comma

    return page_with_comma(page) if own_settings().get("numbers") == "comma" else page


def own_meter() -> str:
    """The user's voltmeter; empty where none is set. Raises InputError for one that no voltmeter has."""
    text = own_settings().get("meter", "")
    return checked_meter(text) if text else ""


def checked_meter(text: str) -> str:
    """The specification of a voltmeter as it is kept. Raises InputError."""
    from advisor.electrical.meter import parse_meter

    try:
        parse_meter(text)
    except ValueError as error:
        raise InputError(str(error), "Set it again with: advisor config meter 0.5%+2") from None
    return text
