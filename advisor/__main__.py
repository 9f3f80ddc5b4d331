"""Entry point: `advisor` and `python -m advisor`."""

import os
import sys


def main() -> None:
    """Runs the command line; Ctrl-C during start-up leaves with 130 like everywhere else."""
    # The models use no plugin of pydantic, and looking for one costs a tenth of the start.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        from advisor.cli import run

        sys.exit(run())
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
