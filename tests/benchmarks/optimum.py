"""What the advice costs against the best there is on random small problems; see advisor/practice/optimum.py.

Run: python tests/benchmarks/optimum.py [--problems 300] [--seed 1] [--plain]

`advisor trial` prints the same; here repairs can also be made to need no setups, with --plain.
"""

from __future__ import annotations

import argparse
import time

from advisor.practice import figures, optimum


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--problems", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plain", action="store_true", help="repairs need no setups")
    options = parser.parse_args()
    started = time.perf_counter()
    found = [optimum.ratios(options.seed, n, plain=options.plain) for n in range(options.problems)]
    print(f"{time.perf_counter() - started:.0f} s")
    print("\n".join(figures.optimum_text(figures.optimum(found))))


if __name__ == "__main__":
    main()
