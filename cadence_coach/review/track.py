"""Speed and place over time, from the fixes that may be believed.

Speed is ground speed: current and wind shift what the foil feels (0.5 m/s of current is 11 % at 4.5 m/s). Nothing above
0.5 Hz exists in fixes that come once a second: speed and distance per pump are averages over many pumps, never of one.
"""

from __future__ import annotations

import math

import numpy as np

from cadence_coach.store.outing import Outing

REACH_S = 2.0
"""A pump has a speed when a fix lies this near: phones deliver once a second and lag up to 2.2 s (Supej & Cuk 2014,
Sensors 14:23490)."""

GOOD_FIXES = 5
"""Fewer fixes in a flight than this, and no speed is given for it."""

COVERED = 0.8
"""Share of a flight that fixes must reach before a distance is given for it."""

RESOLVED_M, RESOLVED_S = 15.0, 10.0
"""Places this far apart tell a direction: within seconds they err by 1 to 2 m against each other, which is 8 deg here.
Over a longer time nobody knows the way between them (engineering choices)."""

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius (IUGG)."""


class Track:
    """The believed fixes of an outing in time order: `t` [s], `speed` [m/s], `lat`, `lon`, `heading` [deg], NaN
    unknown."""

    def __init__(self, outing: Outing) -> None:
        fixes = np.asarray(outing.fixes, float).reshape(-1, 8)
        fixes = fixes[(fixes[:, 7] > 0.0) & np.isfinite(fixes[:, 1])]
        fixes = fixes[np.argsort(fixes[:, 1], kind="stable")]
        self.t, self.speed = fixes[:, 1], fixes[:, 2]
        self.lat, self.lon, self.heading = fixes[:, 3], fixes[:, 4], fixes[:, 6]
        moving = np.isfinite(self.speed)
        self._t, self._speed = self.t[moving], self.speed[moving]

    @property
    def has_place(self) -> bool:
        return bool(np.isfinite(self.lat).any())

    def within(self, start: float, end: float) -> tuple[np.ndarray, np.ndarray]:
        """Times and speeds of the fixes in [start, end]."""
        inside = (self._t >= start) & (self._t <= end)
        return self._t[inside], self._speed[inside]

    def at(self, times: np.ndarray) -> np.ndarray:
        """Speed at the times [m/s], linear between fixes, NaN where no fix lies within REACH_S."""
        times = np.asarray(times, float)
        if not len(self._t):
            return np.full(times.shape, np.nan)
        after = np.clip(np.searchsorted(self._t, times), 0, len(self._t) - 1)
        before = np.maximum(after - 1, 0)
        nearest = np.minimum(np.abs(self._t[after] - times), np.abs(self._t[before] - times))
        return np.where(nearest <= REACH_S, np.interp(times, self._t, self._speed), np.nan)

    def distance(self, start: float, end: float) -> float | None:
        """Way over ground in [start, end] [m]: the integral of the speed; None where fixes cover under COVERED of
        it."""
        grid = np.arange(start, end, 0.25) + 0.125
        speed = self.at(grid)
        known = np.isfinite(speed)
        if len(grid) == 0 or known.mean() < COVERED:
            return None
        return float(np.mean(speed[known]) * (end - start))

    def headings(self, start: float, end: float) -> tuple[np.ndarray, np.ndarray]:
        """Times and directions over ground [deg] of the fixes in [start, end]: as the satellites say, else from place
        to place, RESOLVED_M and more apart within RESOLVED_S."""
        inside = (self.t >= start) & (self.t <= end)
        t, lat, lon, heading = self.t[inside], self.lat[inside], self.lon[inside], self.heading[inside]
        unknown, found = np.isnan(heading), heading.copy()
        at = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon)).tolist()
        first = at[0] if at else 0
        for i in at:
            a, b = (lat[first], lon[first]), (lat[i], lon[i])
            if t[i] - t[first] > RESOLVED_S:
                first = i
            elif metres_between(a, b) >= RESOLVED_M:
                east = math.remainder(b[1] - a[1], 360.0) * math.cos(math.radians(a[0]))
                found[first : i + 1] = math.degrees(math.atan2(east, b[0] - a[0])) % 360.0
                first = i
        heading = np.where(unknown, found, heading)
        known = np.isfinite(heading)
        return t[known], heading[known]

    def place(self, time: float) -> tuple[float, float] | None:
        """Latitude and longitude nearest to a time, None where no place lies within 2 REACH_S."""
        known = np.isfinite(self.lat) & np.isfinite(self.lon)
        if not known.any():
            return None
        i = int(np.argmin(np.abs(self.t[known] - time)))
        if abs(self.t[known][i] - time) > 2.0 * REACH_S:
            return None
        return float(self.lat[known][i]), float(self.lon[known][i])


def metres_between(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Great-circle distance of two places (lat, lon in deg) by the haversine, on a sphere: within 0.5 % of the
    ellipsoid."""
    lat_a, lon_a, lat_b, lon_b = np.radians([*a, *b])
    h = np.sin((lat_b - lat_a) / 2) ** 2 + np.cos(lat_a) * np.cos(lat_b) * np.sin((lon_b - lon_a) / 2) ** 2
    return float(2.0 * EARTH_RADIUS_M * np.arcsin(np.sqrt(min(1.0, h))))
