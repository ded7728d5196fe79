"""Which unit a column is in, from its name and from what bodies do. Pure; None means: in doubt, ask.

A guess needs two witnesses that agree, the name and the numbers, or numbers that fit one unit alone.
"""

from __future__ import annotations

import re

import numpy as np

from cadence_coach.core.units import G

ACCEL = {"m/s2": 1.0, "g": G, "mg": G / 1000, "cm/s2": 0.01}
ROTATION = {"rad/s": 1.0, "deg/s": np.pi / 180}
TIME = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
SPEED = {"m/s": 1.0, "km/h": 1 / 3.6, "kn": 1852 / 3600, "mph": 1609.344 / 3600}
"""Unit: how many SI units it is (BIPM, SI brochure, and the definitions of nautical and statute mile)."""

SPELLINGS = {
    "m/s2": ("m/s2", "m/s^2", "m/s²", "ms-2", "m/s/s", "m_s2", "mps2"),
    "g": ("g", "gs", "g0"),
    "mg": ("mg", "milli-g"),
    "cm/s2": ("cm/s2", "cm/s^2", "gal"),
    "rad/s": ("rad/s", "rad_s", "rads", "radians/s"),
    "deg/s": ("deg/s", "deg_s", "dps", "°/s", "degrees/s"),
    "s": ("s", "sec", "secs", "seconds"),
    "ms": ("ms", "msec", "millis", "milliseconds"),
    "us": ("us", "µs", "μs", "usec", "micros", "microseconds"),
    "ns": ("ns", "nsec", "nanos", "nanoseconds"),
    "m/s": ("m/s", "m_s", "mps"),
    "km/h": ("km/h", "kmh", "kph", "km_h"),
    "kn": ("kn", "kt", "kts", "knots"),
    "mph": ("mph",),
}

STANDS = (0.6, 1.6)
"""Length of the specific force of a body on this earth, averaged over a second, in g: 1, and what turning, uneven
cycles and a sensor shaken beyond its scale leave (1.3 on open recordings of runners)."""
FLOATS = 1.5
"""Beyond this `shaken` gravity is not in the figures: with it 0.7 to 1.13 on open recordings of people walking and
running and up to 1.01 on simulated riders, without it 2.0 to 7."""
STEPS_S = (0.0009, 0.06)
"""Median time from row to row [s]: 17 Hz to 1.1 kHz."""
TURNED = 0.3
"""Below this correlation of the two sensors the body has not turned enough to judge by."""


def named(column: str, units: dict[str, float]) -> str | None:
    """The unit that a column's name carries: in brackets, or behind the last blank or underscore."""
    text = column.strip().lower()
    inside = re.findall(r"[\[(]([^\])]*)[\])]", text)
    tails = [text[m.end() :] for m in re.finditer(r"[ _.]", text)]
    for part in [*inside, *tails]:
        for unit in units:
            if part.strip() in SPELLINGS[unit]:
                return unit
    return None


def gravity(t: np.ndarray, accel: np.ndarray) -> float:
    """Median length of the acceleration (n, 3) averaged over a second, in its own unit; t [s]."""
    steps = np.diff(t)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    window = np.ones(max(1, min(len(t), round(1.0 / step))))
    clean = accel[np.isfinite(accel).all(axis=1)]
    if len(clean) < len(window):
        window = np.ones(max(1, len(clean)))
    mean = np.stack([np.convolve(a, window / len(window), "valid") for a in clean.T], 1)
    return float(np.median(np.linalg.norm(mean, axis=1)))


def shaken(t: np.ndarray, accel: np.ndarray) -> float:
    """Median length of the acceleration (n, 3) / that of its average over a second: near 1 where gravity is in it."""
    length = float(np.nanmedian(np.linalg.norm(accel, axis=1)))
    return length / max(gravity(t, accel), 1e-12)


def accel_unit(length: float) -> list[str]:
    """Units in which this length, averaged over a second, is a body under 1 g."""
    return [u for u, si in ACCEL.items() if STANDS[0] <= length * si / G <= STANDS[1]]


def time_unit(step: float, steps: tuple[float, float] = STEPS_S) -> list[str]:
    """Units in which this median step is a sensor's: between `steps` [s]."""
    return [u for u, si in TIME.items() if steps[0] <= step * si <= steps[1]]


def rotation_unit(t: np.ndarray, accel: np.ndarray, gyro: np.ndarray) -> str | None:
    """Unit of rotation rates (n, 3) from how the direction of the acceleration (n, 3) turns meanwhile; t [s].

    A direction fixed in the world turns in the sensor's axes by d up/dt = -w x up. Both sides are averaged over a
    second, so that swings of the body cancel; the scale between them is 1 for rad/s and pi/180 for deg/s.
    """
    steps = np.diff(t)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    width = max(1, round(1.0 / step))
    if len(t) < 4 * width:
        return None
    window = np.ones(width) / width
    up = np.stack([np.convolve(a, window, "valid") for a in accel.T], 1)
    up /= np.maximum(np.linalg.norm(up, axis=1, keepdims=True), 1e-9)
    spin = np.stack([np.convolve(w, window, "valid") for w in (gyro - np.median(gyro, axis=0)).T], 1)
    seen = (up[width:] - up[:-width]) / (width * step)
    turned = np.stack([np.convolve(c, window, "valid") for c in -np.cross(spin, up).T], 1)[: len(seen)]
    seen = seen[: len(turned)]
    power = float(np.sum(turned * turned))
    if power <= 0:
        return None
    scale = float(np.sum(seen * turned)) / power
    likeness = float(np.sum(seen * turned)) / np.sqrt(power * float(np.sum(seen * seen)) + 1e-300)
    if abs(likeness) < TURNED:
        return None
    if abs(scale) > 0.4:
        return "rad/s"
    return "deg/s" if abs(scale) < 0.05 else None


def at_times(t: np.ndarray, known_t: np.ndarray, known: np.ndarray) -> np.ndarray:
    """`known` (n, 3) read at other times between its own; NaN outside them."""
    fine = np.isfinite(known).all(axis=1) & np.isfinite(known_t)
    order = np.argsort(known_t[fine], kind="stable")
    x = known_t[fine][order]
    return np.stack([np.interp(t, x, c[fine][order], left=np.nan, right=np.nan) for c in known.T], 1)
