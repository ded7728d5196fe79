"""Whether a recording's tables are in the units that their names say, and on one clock: judged by the first block of
each, so that nothing has begun when one is refused. What only the whole reading tells is a note."""

from __future__ import annotations

import statistics
from itertools import pairwise

import numpy as np

from cadence_coach.errors import Refused
from cadence_coach.store import unit_guess
from cadence_coach.store.columns import NAN, Table, Unfit

NS = 1_000_000_000

WHOLE_G = (0.3, 3.0)
"""A median length of the acceleration in here [m/s2] is no body on this earth: it is in g, or gravity was taken out."""
THOUSANDS = 200.0
"""Above this median length [m/s2] it is in mg or cm/s2: 20 g all the time is no rider."""
COARSEST_STEP, FINEST_STEP = 0.5, 2e-5
"""Median time from row to row [s]. 1 kHz in milliseconds steps by 1; a pump takes about 0.6 s."""
COARSEST_FIX = 90.0
"""The same of fixes [s]: 10 Hz in milliseconds step by 100, and one in two minutes is no speed."""
FEWEST_STEPS = 5
"""Fewer tell no unit: a receiver under water has two fixes minutes apart."""
DAY_NS = 86_400 * NS
"""No outing is longer: tables that are further apart count from different starts."""
TURNING, SPINNING = 3.0, 12.0
"""Median rotation [rad/s] of no body where the acceleration bears out deg/s, and where it does not. On
simulated riders and those of five makes 0.1 to 1.6; as deg/s 5 to 93."""
FASTEST = 12.0
"""A tenth of the speeds over this [m/s] is no pumping (riders: under 8), but the like in km/h, or a boat or car."""


@np.errstate(over="ignore")  # of a cell like 1e300, which is one bad row
def check_accel(table: Table) -> None:
    """Refuses an acceleration in g or without gravity, or a time in milliseconds."""
    times = table.first()[0]
    where = f"{table.path} line 2"
    known = [ns for ns in times if ns is not None]
    if not times:
        raise Refused(f"{where}: no rows after the column names; nothing was recorded, or the copy is not whole")
    if not known:
        raise Refused(f"{where}: no row has a time; t_s must be seconds")
    steps = [(b - a) / NS for a, b in pairwise(known) if b > a]
    if len(known) > 1 and not steps:
        raise Refused(f"{where}: t_s never moves forward; write it with more digits, at least 0.001 s")
    if steps and not FINEST_STEP <= (step := statistics.median(steps)) < COARSEST_STEP:
        what = "divide milliseconds by 1000" if step >= COARSEST_STEP else "is it another unit?"
        raise Unfit(
            f"{where}: t_s goes up by {step:g} a row",
            f"it must be seconds, {what}",
            f"say its unit, `import {table.path} --units time=ms` and the like",
        )
    t, accel = _whole_rows(table, known[0])
    if not len(t):
        return
    length = np.linalg.norm(accel, axis=1)
    if unit_guess.shaken(t, accel) > unit_guess.FLOATS:
        raise Refused(
            f"{where}: the acceleration averages {unit_guess.gravity(t, accel):.3g} m/s2 over a second, "
            "where every body on earth has 9.8: gravity was taken out; record with gravity in it"
        )
    middle = float(np.median(length))
    if WHOLE_G[0] < middle < WHOLE_G[1]:
        raise Unfit(
            f"{where}: the acceleration has a median length of {middle:.2f} where 9.8 m/s2 is normal",
            "multiply g by 9.80665, and record with gravity in it",
            f"say its unit, `import {table.path} --units accel=g`, and record with gravity in it",
        )
    if middle > THOUSANDS:
        raise Unfit(
            f"{where}: the acceleration has a median length of {middle:.0f} where 9.8 is normal",
            "convert it to m/s2",
            f"say its unit, `import {table.path} --units accel=mg` or accel=cm/s2",
        )


@np.errstate(over="ignore")
def check_gyro(table: Table, accel: Table, files: str) -> None:
    """Refuses a rotation in degrees a second, in milliseconds, or on a clock of its own. files: all of the recording,
    as they are typed."""
    _check_clock(table, accel, COARSEST_STEP)
    start = next(ns for ns in accel.first()[0] if ns is not None)
    t, turns = _whole_rows(table, start)
    if not len(t):
        return
    beside = unit_guess.at_times(t, *_whole_rows(accel, start))
    both = np.isfinite(beside).all(axis=1)
    middle = float(np.median(np.linalg.norm(turns, axis=1)))
    told = unit_guess.rotation_unit(t[both], beside[both], turns[both])
    if middle > (TURNING if told == "deg/s" else SPINNING):
        raise Unfit(
            f"{table.path} line 2: the rotation has a median length of {middle:.3g} where rad/s belong",
            "multiply degrees by 0.0174533",
            f"multiply degrees by 0.0174533, or name its files: `import {files} --units gyro=deg/s`",
        )


def check_speed(table: Table, accel: Table) -> list[str]:
    """Refuses fixes in milliseconds or on a clock of their own. Speeds beyond a rider's are a note alone: a boat and a
    car are that too."""
    _check_clock(table, accel, COARSEST_FIX)
    values = table.first()[1]
    speed = np.asarray(values[0] if values else [])
    speed = speed[np.isfinite(speed)]
    if not len(speed) or (fast := float(np.quantile(speed, 0.9))) <= FASTEST:
        return []
    return [
        f"{table.path.name} was taken as m/s, though a tenth of it is over {fast:.3g}: if it is km/h, divide it by 3.6"
    ]


def apart(table: Table, other: Table) -> bool:
    """Whether two tables that were read to their ends have no moment in common."""
    if table.span is None or other.span is None:
        return False
    return table.span[1] < other.span[0] or table.span[0] > other.span[1]


def _check_clock(table: Table, accel: Table, coarsest: float) -> None:
    known = [ns for ns in table.first()[0] if ns is not None]
    steps = [(b - a) / NS for a, b in pairwise(known) if b > a]
    where = f"{table.path} line 2"
    if len(steps) >= FEWEST_STEPS and (step := statistics.median(steps)) >= coarsest:
        raise Refused(f"{where}: t_s goes up by {step:g} a row; it must be seconds, divide milliseconds by 1000")
    middles = [statistics.median_low(ns) for ns in (known, [ns for ns in accel.first()[0] if ns is not None]) if ns]
    if known and abs(middles[0] - middles[1]) > DAY_NS:
        raise Refused(
            f"{where}: t_s is about {middles[0] / NS:.10g} where it is {middles[1] / NS:.10g} in {accel.path.name}; "
            "count both from the same start"
        )


def _whole_rows(table: Table, start: int) -> tuple[np.ndarray, np.ndarray]:
    """Times [s from start] and values (n, 3) of the first block's rows that lack nothing."""
    times, values = table.first()
    t = np.array([NAN if ns is None else (ns - start) / NS for ns in times])
    rows = np.column_stack([np.asarray(column) for column in values]) if times else np.empty((0, 3))
    there = np.isfinite(t) & np.isfinite(rows).all(axis=1)
    return t[there], rows[there]
