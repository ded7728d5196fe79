"""How long an answer takes: the table looked up, beside solving at the speed. Run: python -m tests.foil.bench"""

from __future__ import annotations

import time
import timeit

from cadence_coach.foil.band import band_table
from cadence_coach.foil.share import share_band
from cadence_coach.foil.solve import solve
from tests.foil.riders import B


def exact() -> None:
    share_band(B, 4.713, float(solve(B, [4.713]).target[0]))


def main() -> None:
    start = time.process_time()
    table = band_table(B)
    made = time.process_time() - start
    looked_up = min(timeit.repeat(lambda: table.at(4.713), number=2000, repeat=5)) / 2000
    solved = min(timeit.repeat(exact, number=1, repeat=3))
    print(f"table of {len(table.bands)} rows made in {made:.2f} s of processor time")
    print(f"one answer looked up: {1e6 * looked_up:.0f} us")
    print(f"one answer solved exactly: {1e3 * solved:.0f} ms, {solved / looked_up:.0f} x as long")


if __name__ == "__main__":
    main()
