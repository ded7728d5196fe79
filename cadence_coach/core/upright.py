"""Which way is up: gravity as the running mean of the specific force, and the vertical part of each grid sample.

Over whole cycles the mean specific force is 1 g straight up (momentum theorem), whatever the rider does in between;
so the mean is taken of the force as it is, never of a normalised one (a unit vector weighs the light half of a pump
as much as the heavy half and leans). Two equal low-passes in series: ripple at the pumping rate falls with the square
of the frequency.

With a gyroscope the mean is carried along in the sensor's axes as the body pitches, so that pitching with the stroke
no longer smears it (detection notes: 1.6 deg against 6.8 deg RMS at 10 deg of pitch).

All operations are the same for any fixed orientation of the phone: it only turns the axes. A vector fixed in the world
moves by -w x v dt in the sensor's axes. `front` steps it.
"""

from __future__ import annotations

from .units import STEP

MEAN_TIME = 0.7
"""Time constant of each of the two low-passes [s]: 1.4 s together follow a rider who leans over, and leave 2 % ripple
at 1.5 Hz."""

RATE_HOLD = 10
"""A rotation rate holds for this many grid steps: 0.1 s without a reading, and it is no longer believed."""
GAIN = STEP / MEAN_TIME
COLD = 100
"""A cold start averages what there is, 1/n, until that is slower than the low-pass; so many points at most."""
SMALLEST = 1.0
"""Gravity smaller than this [m/s2] is none: free fall at the very start, no direction yet."""
