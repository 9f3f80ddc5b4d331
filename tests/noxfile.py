"""The test sessions: the suite on every supported Python that is found, style and types once."""

import nox

nox.options.default_venv_backend = "venv"
nox.options.error_on_missing_interpreters = False
nox.options.stop_on_first_error = True


@nox.session(python=["3.11", "3.12", "3.13"])
def suite(session: nox.Session) -> None:
    """Installs the package as a user would and runs every test."""
    session.chdir("..")
    session.install("-q", ".[test]")
    session.run("python", "-m", "pytest", *session.posargs)


@nox.session
def style(session: nox.Session) -> None:
    """Style and types."""
    session.chdir("..")
    session.install("-q", ".[test]")
    session.run("ruff", "check", "advisor", "tests")
    session.run("ruff", "format", "--check", "advisor", "tests")
    session.run("mypy")
