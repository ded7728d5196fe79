"""Outings to learn from of legs and trunk acting together, and of a phone strapped over soft tissue that lags.

Riders differ as people do: in their first week or fluent, even, snappy, deep or floating, left or right foot first
(`strapped_rider`). A pump's push is balanced by its unweighting (`strapped_flight`), a start's landing by what came
before it (`strapped_starts`); between flights one swims, climbs out, stands and walks (`strapped_day`). Truth is read
off the body's vertical (`strapped_truth`) before a spring and a damper take it to the phone (`strapped_phone`). Pumping
at 1.05-1.95 Hz, period CV 2-7 %, push share 0.18-0.55, peak 1.4-2.6 g; ringing 7-18 Hz with damping 0.18-0.6, jitter to
3 ms SD, gaps to 0.35 s; 50, 100, 200 Hz; a gyroscope in half, speed in three quarters. All values are the maker's own
choice, tuned until a plain peak finder and a plain crossing detector scored F1 of about 0.94 and 0.98.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d
from scipy.signal import butter, sosfiltfilt

from cadence_coach.sim import SimulatedOuting

from .drawn_motion import PI, Array
from .strapped_day import Day
from .strapped_flight import attempt
from .strapped_phone import Motion, Recorder
from .strapped_rider import FS
from .strapped_truth import truth_of

KINDS = ("calm", "rough", "short", "long", "tow", "step", "mixed", "landwalk")
"""long: 55-110 pumps once at least; short: 4-20, or 0-2; landwalk: no flight, nor a try."""
RATES = (100, 50, 200)
STARTS = {"tow": ("rope",), "step": ("step",), "mixed": ("run_up", "rope", "step")}
"""Of other kinds most are run-ups."""
ASHORE = ("walk", "stand", "run", "bend_knees", "swim", "climb", "jump_in")
LONGEST, AFTER = 290.0, 22.0
"""[s] of an outing, and of what comes after its last pump."""


def kind_of(number: int) -> str:
    """Eight numbers in a row have all KINDS."""
    return KINDS[number % len(KINDS)]


def recorder_of(number: int, rough: float) -> Recorder:
    """Rates, gyroscopes and speeds go round with the kinds, each at its own pace."""
    round_, kind = divmod(number, len(KINDS))
    return Recorder(
        RATES[(round_ + kind) % 3], rough, gyro=(round_ + kind // 2) % 2 == 0, fixes=(round_ + kind) % 4 != 3
    )


# --- the plan of an outing ---


def day_of(seed: int, number: int) -> Day:
    r, kind = np.random.default_rng([seed, number, 7919]), kind_of(number)
    u = r.uniform
    rough = {"rough": u(0.6, 1), "calm": u(0, 0.15), "long": u(0, 0.3)}.get(kind, u(0, 0.5))
    day = Day(r, kind, rough)
    lasts = u(150, 285)
    if kind == "landwalk":
        _ashore(day, lasts)
    else:
        _tries(day, kind, lasts)
    return day


def _ashore(day: Day, lasts: float) -> None:
    r, u = day.r, day.r.uniform
    if r.random() < 0.5:
        day.stand(u(3, 8))
    while day.now < lasts - 12:
        match str(r.choice(ASHORE, p=[0.3, 0.24, 0.1, 0.09, 0.19, 0.04, 0.04])):
            case "walk":
                day.walk(u(5, 20))
            case "stand":
                day.stand(u(5, 25))
            case "run":
                day.run(u(2, 7), u(2.5, 3.0), 1.5, u(2.2, 3.2))
            case "bend_knees":
                day.stand(1.5)
                day.bend_knees(int(r.integers(3, 8)))
            case "swim":
                day.swim(u(10, 30))
                day.climb()
            case "climb":
                day.climb()
            case "jump_in":
                day.speed = 1.0
                day.stand(2)
                day.fall()
                day.swim(u(5, 15))
                day.climb()
    day.stand(u(2, 5))


def _tries(day: Day, kind: str, lasts: float) -> None:
    """At least one."""
    r, u = day.r, day.r.uniform
    day.stand(u(3, 8))
    while not day.tries or day.now < lasts - 30:
        count = _count(r, kind, day.rider.skill)
        if kind == "long" and day.tries and r.random() < 0.4:
            count = int(r.integers(12, 50))
        room = (LONGEST - day.now - AFTER) / day.rider.period
        if room < 4:
            break
        start = _start(r, kind)
        attempt(day, start, int(min(count, room)))
        if day.now > lasts - 20:
            break
        _back(day, kind, start)
    if day.now < 125:
        day.swim(u(8, 14))
        day.climb()
        day.stand(max(2, 125 - day.now))
    else:
        day.swim(u(5, 10))


def _start(r: np.random.Generator, kind: str) -> str:
    if kind in STARTS:
        return STARTS[kind][r.integers(len(STARTS[kind]))]
    return "run_up" if r.random() < 0.85 else "step"


def _count(r: np.random.Generator, kind: str, skill: float) -> int:
    """Pumps of the next try."""
    if kind == "short":
        if r.random() < 0.16:
            return int(r.choice([0, 1, 2], p=[0.4, 0.3, 0.3]))
        return int(np.clip(r.gamma(2.6, 3.4) + 3, 4, 20))
    if kind == "long":
        return int(r.integers(55, 111))
    if r.random() < 0.05 + 0.08 * (1 - skill):
        return int(r.integers(0, 3))
    usual = {"rough": 12, "step": 12, "mixed": 12}.get(kind, 14)
    return int(np.clip(r.gamma(2.0, usual) + 4, 4, 90))


def _back(day: Day, kind: str, start: str) -> None:
    """To where the next try begins; a rope is given into the water."""
    r, u = day.r, day.r.uniform
    day.swim(u(4, 12) if kind == "tow" else u(6, 20))
    if start == "rope":
        return
    day.climb()
    if r.random() < 0.35:
        day.stand(u(2, 6))
    if r.random() < 0.3:
        day.walk(u(3, 10))


# --- the body that lives it ---


def motion_of(day: Day) -> Motion:
    """Pieces joined as smoothly as a body is, with chop and waves."""
    r, u, c = day.r, day.r.uniform, day.whole()
    n, chop = day.length, soft(c["chop"], 0.3)
    t = np.arange(n) / FS
    over = c["over"] + chop * noise(r, n, 0.5, 2.6)
    afloat = soft((c["wet"] > 0.05) * 1.0, 1.0)
    over = over + afloat * day.rough * 0.012 * np.sin(2 * PI * t / u(3.5, 6) + u(0, 6))
    over = gaussian_filter1d(over, day.rider.smooth * FS)
    over = sosfiltfilt(butter(2, 0.06, "high", fs=FS, output="sos"), over)  # nobody rises or sinks for ever
    fore = gaussian_filter1d(c["fore"] + 1.2 * chop * noise(r, n, 0.4, 3), 15)
    side = gaussian_filter1d(c["side"] + 1.2 * chop * noise(r, n, 0.4, 3), 15)
    pitch = soft(c["lean"], 0.35) + gaussian_filter1d(c["nod"], 20) + 40 * chop * noise(r, n, 0.2, 1.5)
    roll = soft(c["bank"], 0.35) + 40 * chop * noise(r, n, 0.2, 1.5)
    yaw = soft(c["yaw"], 0.6) + 2 * noise(r, n, 0.1, 0.6)
    speed = np.clip(soft(c["speed"], 0.5), 0, None)
    return Motion(over, fore, side, np.clip(pitch, -80, 80), roll, yaw, speed, soft(c["wet"], 0.3))


def soft(x: Array, seconds: float) -> Array:
    """Mean over so many seconds of the mean over so many."""
    n = int(seconds * FS)
    return uniform_filter1d(uniform_filter1d(x, n, mode="nearest"), n, mode="nearest")


def noise(r: np.random.Generator, n: int, low: float, high: float) -> Array:
    """From low to high [Hz], SD 1, straight between each tenth sample."""
    m = n // 10 + 20
    x = sosfiltfilt(butter(2, [low, high], "band", fs=FS / 10, output="sos"), r.normal(size=m))
    x /= x.std()
    return np.interp(np.arange(n) / 10.0, np.arange(m), x)


def strapped_outing(seed: int, number: int) -> SimulatedOuting:
    """The outing as a phone records it; number: its kind (`kind_of`) and what the phone has (`recorder_of`).
    `attempts` in its truth have the onsets of every pump, those of no flight too. The same arguments give the same
    outing."""
    day = day_of(seed, number)
    motion = motion_of(day)
    truth = truth_of(motion.over, day.tries, kind_of(number))
    accel, gyro, fixes = recorder_of(number, day.rough).rows(day.r, motion, truth["flights"])
    return SimulatedOuting(accel, gyro, fixes, truth, {})
