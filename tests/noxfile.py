"""The test sessions: the whole suite on one Python, the rest of it on the others that are found, then style and types once."""

import shutil
import subprocess
import sys
from pathlib import Path

import nox

nox.options.default_venv_backend = "venv"
nox.options.stop_on_first_error = True


def found(version: str) -> str | None:
    """The interpreter of a version that really runs: on the path, or one that a version manager keeps aside."""
    kept = sorted((Path.home() / ".pyenv" / "versions").glob(f"{version}.*/bin/python"))
    for candidate in (shutil.which(f"python{version}"), shutil.which("python3"), *map(str, kept)):
        if candidate is None:
            continue
        asked = [candidate, "-c", "import sys; print('%d.%d' % sys.version_info[:2])"]
        if subprocess.run(asked, capture_output=True, text=True, check=False).stdout.strip() == version:
            return candidate
    return None


PYTHONS = [python for python in map(found, ("3.11", "3.12", "3.13")) if python is not None]


def browser(session: nox.Session) -> None:
    """A Chromium for the pages' tests where the system has none. Where it cannot be had, they are skipped and say so."""
    if any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))):
        return
    try:
        subprocess.run(
            [f"{session.bin}/python", "-m", "playwright", "install", "chromium"], timeout=300, capture_output=True, check=True
        )
    except (subprocess.SubprocessError, OSError) as error:
        session.warn(f"no Chromium, so the pages are not tested in a browser: {error}")


# What a browser shows and what other libraries and published figures say does not hang on the version of Python.
ONCE = (
    "tests/external",
    "tests/record/test_record_browser.py",
    "tests/record/test_shop_page.py",
    "tests/record/test_states_page.py",
)


@nox.session(python=PYTHONS)
def suite(session: nox.Session) -> None:
    """Installs the package as a user would and runs every test on the first Python; on the others those not in `ONCE`."""
    session.chdir("..")
    session.install("-q", ".[test]")
    left_out = []
    if session.python == PYTHONS[0]:
        browser(session)
    else:
        left_out = [f"--ignore={path}" for path in ONCE]
    session.run("python", "-m", "pytest", "-n", "2", *left_out, *session.posargs)


@nox.session(python=False)
def style(session: nox.Session) -> None:
    """Style and types, with the tools of the environment that nox itself runs in."""
    session.chdir("..")
    session.run(sys.executable, "-m", "ruff", "check", "advisor", "tests")
    session.run(sys.executable, "-m", "ruff", "format", "--check", "advisor", "tests")
    session.run(sys.executable, "-m", "mypy")
