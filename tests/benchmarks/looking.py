"""How long looking back takes: an hour's review, a season of 200 outings, many outings again, and starting at all; each
beside what general-purpose tools need for a part of it."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
from scipy.signal import butter, find_peaks, sosfiltfilt

from cadence_coach.commands.looking import looked
from cadence_coach.review.advice import one_thing
from cadence_coach.review.report import report_html
from cadence_coach.review.restudy import find, on_cores, restudy
from cadence_coach.review.season import season
from cadence_coach.review.season_page import season_html
from cadence_coach.review.season_row import Cache
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import write_recording
from tests.review.benchmark import hour, timed
from tests.review.build import make

from .tables import missed, table

OUTINGS = 200
STARTS = 7


def peaks_of(path: Path) -> int:
    """The plain way with a recording: numpy.loadtxt, gravity by a low-pass, scipy find_peaks."""
    axes = np.loadtxt(path, delimiter=",", skiprows=1, usecols=(1, 2, 3), unpack=True)
    a = axes.T
    up = sosfiltfilt(butter(1, 0.2, fs=100, output="sos"), a, axis=0)
    v = sosfiltfilt(butter(2, 4.0, fs=100, output="sos"), (a * up).sum(axis=1) / np.linalg.norm(up, axis=1))
    return len(find_peaks(v, height=11.3, distance=35, prominence=2.5)[0])


def clocked(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds on the clock and of this process' processor time: a busy machine makes the former long."""
    began, used = perf_counter(), process_time()
    work()
    return perf_counter() - began, process_time() - used


def both(wall: float, cpu: float) -> str:
    return f"{wall:.2f} s ({cpu:.2f} s of processor)"


def review(room: Path) -> tuple[list[str], float]:
    outing = make(hour())
    path = save_outing(outing, room / "hour.outing")
    write_recording(room / "hour", outing.accel)

    def whole() -> str:
        seen = looked(load_outing(path))
        return report_html(seen, advice=one_thing(seen))

    whole()  # the band of a profile is worked out once a run
    ours, ours_cpu = clocked(whole)
    plain, plain_cpu = clocked(lambda: peaks_of(room / "hour" / "accel.csv"))
    return [
        "review of an hour at 100 Hz, with its report",
        both(ours, ours_cpu),
        both(plain, plain_cpu),
        "loadtxt, find_peaks",
    ], ours


def many(room: Path) -> tuple[list[list[str]], float]:
    folder = room / "season"
    folder.mkdir()
    for n in range(OUTINGS):
        save_outing(make(hour(n + 1, length=900.0)), folder / f"{n:03d}.outing")
    paths = sorted(folder.glob("*.outing"))
    first, _ = timed(lambda: Cache(room / "cache").rows(paths))
    again, again_cpu = clocked(lambda: season_html(season(Cache(room / "cache").rows(paths)[0])))

    def counted() -> int:
        total = 0
        for path in paths:
            with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as db:
                total += db.execute("SELECT count(*) FROM flights").fetchone()[0]
            db.close()
        return total

    plain, plain_cpu = clocked(counted)
    rows = [
        [
            f"season of {OUTINGS} outings, with its page",
            both(again, again_cpu),
            both(plain, plain_cpu),
            "sqlite3, flights counted",
        ],
        ["the same for the first time", f"{first:.1f} s", "", ""],
    ]
    return rows, again


def again(room: Path) -> list[str]:
    folder = room / "club"
    for n in range(6):
        write_recording(folder / f"{n}", make(hour(n + 1, length=600.0, profile=False)).accel)
    paths = find(folder)
    took, studies = timed(lambda: restudy(paths, on_cores(os.cpu_count() or 1)))
    seconds = sum(s.seconds for s in studies)
    plain, _ = timed(lambda: [peaks_of(Path(p) / "accel.csv") for p in paths])
    cores = f"{os.cpu_count()} cores"
    return [
        f"restudy on {cores}, x real time",
        f"{seconds / took:.0f}",
        f"{seconds / plain:.0f}",
        "find_peaks, one core",
    ]


def start(*argv: str) -> float:
    """The quickest of some starts of Python [s]."""
    best = np.inf
    for _ in range(STARTS):
        began = perf_counter()
        subprocess.run([sys.executable, *argv], stdout=subprocess.DEVNULL, check=True)
        best = min(best, perf_counter() - began)
    return best


def report() -> tuple[str, list[str]]:
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        one, review_s = review(room)
        seasons, season_s = many(room)
        rows = [one, *seasons, again(room)]
    help_s, typer_s = start("-m", "cadence_coach", "--help"), start("-c", "import typer")
    rows.append(["`cadence-coach --help`", f"{help_s:.2f} s", f"{typer_s:.2f} s", "Python with typer imported"])
    short = missed(review_s, 2.0, f"review of an hour {review_s:.1f} s, goal 2")
    short += missed(season_s, 2.0, f"season {season_s:.1f} s, goal 2") + missed(
        help_s, 0.3, f"help {help_s:.2f} s, goal 0.3"
    )
    return table(["", "cadence coach", "beside it", "what that is"], rows), short
