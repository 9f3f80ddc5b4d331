"""Entry point: `advisor` and `python -m advisor`."""

import gc
import os
import sys

YOUNG = 200_000  # new objects after which garbage is looked for


def main() -> None:
    """Runs the command line; Ctrl-C during start-up leaves with 130 like everywhere else."""
    # The models use no plugin of pydantic, and looking for one costs a tenth of the start.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
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
