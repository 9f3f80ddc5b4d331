"""Entry point: `advisor` and `python -m advisor`."""

import sys


def main() -> None:
    """Runs the command line; Ctrl-C during start-up leaves with 130 like everywhere else."""
    try:
        from advisor.cli import run

        sys.exit(run())
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
