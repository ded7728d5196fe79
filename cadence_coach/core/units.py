"""Constants and conversions that the whole project shares. SI inside; a suffix wherever a name is not SI."""

G = 9.80665
"""Standard gravity [m/s2] (CGPM 1901): turns a specific force in m/s2 into g."""

INFINITY = float("inf")


def per_minute(cadence: float) -> float:
    """Cadence in Hz as pumps per minute, the way a rider counts."""
    return 60.0 * cadence


STEP = 0.01
"""Grid step [s]: 100 Hz."""
