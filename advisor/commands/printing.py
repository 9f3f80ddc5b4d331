"""A page printed to PDF by a browser that is here, and a file opened in the program the user has for it."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import webbrowser
from pathlib import Path

from advisor.errors import StoreError, UsageError

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
LONGEST = 60  # seconds after which a browser is given up
HINT = "Install one, or write the page with --format html and print that."


def browser() -> str:
    """A browser of this computer that prints without a window. Raises UsageError without one."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        raise UsageError("a PDF needs the browser Chromium, and none is here", HINT)
    return found


def pdf_of(page: str) -> bytes:
    """The page as PDF. Raises UsageError without a browser, StoreError when it does not print."""
    program = browser()
    # A browser that runs as the administrator refuses to start with its own protection; the page holds no script.
    alone = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with tempfile.TemporaryDirectory(prefix="advisor-") as folder:
        source, target = Path(folder) / "record.html", Path(folder) / "record.pdf"
        source.write_text(page, encoding="utf-8")
        command = [
            program, "--headless", "--disable-gpu", *alone, f"--user-data-dir={folder}/profile", "--no-pdf-header-footer",
            f"--print-to-pdf={target}", source.as_uri(),
        ]  # fmt: skip
        try:
            subprocess.run(command, check=True, timeout=LONGEST, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            return target.read_bytes()
        except (OSError, subprocess.SubprocessError) as error:
            raise StoreError(f"{program} did not print the page ({type(error).__name__})", HINT) from None


def show_file(path: Path) -> None:
    """Opens a file in the user's browser. Raises StoreError when there is none that can be opened."""
    if not webbrowser.open(path.resolve().as_uri()):
        raise StoreError(f"{path}: no browser could be opened", "The file is written. Open it by hand.")
