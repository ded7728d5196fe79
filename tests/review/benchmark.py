"""How fast looking back is: python -m tests.review.benchmark. Figures for the README's table, no pass or fail.

Each figure stands beside a plain alternative in the same run: the review beside reading the file alone, the season's
kept rows beside working them out, two workers beside one.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np

from cadence_coach.commands.looking import looked
from cadence_coach.foil.profile import demo_profile
from cadence_coach.review.advice import one_thing
from cadence_coach.review.report import report_html
from cadence_coach.review.restudy import find, on_cores, restudy, serial
from cadence_coach.review.season import season
from cadence_coach.review.season_page import season_html
from cadence_coach.review.season_row import Cache, lost
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import write_recording
from tests.review.build import Fly, Plan, make, steady


def hour(seed: int = 1, length: float = 3600.0, profile: bool = True) -> Plan:
    """An hour at 100 Hz: a try every two minutes or so, 0 to 110 pumps."""
    rng = np.random.default_rng(seed)
    tries, t = [], 60.0
    while t < length - 120.0:
        pumps = int(rng.integers(0, 110))
        tries.append(Fly(t, steady(98.0, pumps, seed=len(tries)), height=0.75, speed=4.4, speed_end=4.2))
        t += sum(tries[-1].periods) + rng.uniform(40.0, 110.0)
    ident = f"00000000-0000-4000-8000-{seed:012d}"
    date = f"2026-{1 + seed // 28:02d}-{1 + seed % 28:02d}T09:00:00Z"
    return Plan(
        tries,
        length=length,
        profile=demo_profile().table if profile else None,
        uuid=ident,
        start_utc=date,
        place=(47.0, 8.0),
    )


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    began = perf_counter()
    found = work()
    return perf_counter() - began, found


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        path = save_outing(make(hour()), room / "hour.outing")
        read, outing = timed(lambda: load_outing(path))
        looked(outing)  # the band of a profile is worked out once a run
        figures, seen = timed(lambda: looked(outing))
        page, text = timed(lambda: report_html(seen, advice=one_thing(seen)))
        print(f"an hour at 100 Hz, {len(seen.figures.flights)} flights, {seen.figures.pumps} pumps:")
        print(
            f"  reading the file {read:.2f} s, figures {figures:.2f} s, report {page:.2f} s ({len(text) / 1e6:.1f} MB)"
        )
        print(f"  most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
        _season(room)
        _restudy(room)


def _season(room: Path) -> None:
    folder = room / "season"
    folder.mkdir()
    for n in range(200):
        save_outing(make(hour(n + 1, length=900.0)), folder / f"{n:03d}.outing")
    paths = sorted(folder.glob("*.outing"))
    first, _ = timed(lambda: Cache(room / "cache").rows(paths))
    many, _ = timed(lambda: Cache(room / "many").rows(paths, many=on_cores(os.cpu_count() or 1, lost)))
    again, (rows, _) = timed(lambda: Cache(room / "cache").rows(paths))
    summed, text = timed(lambda: season_html(season(rows)))
    print(f"a season of 200 outings: worked out {first:.1f} s, on {os.cpu_count()} cores {many:.1f} s;")
    print(f"  kept rows {again:.2f} s, page {summed:.2f} s ({len(text) / 1e3:.0f} kB)")


def _restudy(room: Path) -> None:
    folder = room / "club"
    for n in range(6):
        write_recording(folder / f"{n}", make(hour(n + 1, length=600.0, profile=False)).accel)
    paths = find(folder)
    for name, run in (("this process", serial), ("1 worker", on_cores(1)), ("2 workers", on_cores(2))):
        took, studies = timed(lambda run=run: restudy(paths, run))
        seconds = sum(s.seconds for s in studies)
        core = sum(s.took for s in studies) / seconds * 3600.0
        print(f"restudy on {name}: {seconds / took:.0f} times real time, {core:.0f} core-seconds an hour of samples")


if __name__ == "__main__":
    sys.exit(main())
