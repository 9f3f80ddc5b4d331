"""Entry point: `advisor` and `python -m advisor`."""

import gc
import os
import sys
from types import ModuleType
from typing import Any

LOOKS = "pydantic.plugin._loader"
YOUNG = 200_000  # new objects after which garbage is looked for


def without_plugins() -> None:
    """Keeps pydantic from looking for plugins, of which the models use none.

    To look for one costs a tenth of the start. What would look is not even loaded, for it loads the reader of installed
    packages, a twentieth more. Where a later pydantic has another name for it, only that is lost.
    """
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    looks: Any = ModuleType(LOOKS)
    looks.get_plugins = tuple
    sys.modules.setdefault(LOOKS, looks)


def main() -> None:
    """Runs the command line; Ctrl-C during start-up leaves with 130 like everywhere else."""
    without_plugins()
    # What a start makes is there to stay. To look for garbage in it after each 700 objects costs another tenth.
    gc.set_threshold(YOUNG, 50, 50)
    try:
        from advisor.cli import run

        sys.exit(run())
    except KeyboardInterrupt:
        sys.exit(130)
    finally:
        gc.freeze()  # the process ends: to look once more for garbage in all that it has made is a twentieth of a start


if __name__ == "__main__":
    main()
