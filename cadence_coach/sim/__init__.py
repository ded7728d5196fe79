"""A simulated rider on a simulated foil: recordings with exact truth. Nothing the coach decides may import it.

    simulate_outing(seed, kind, rate_hz) -> SimulatedOuting(accel, gyro, fixes, truth, meta)     kinds: KINDS
    demo_outing(seed)                    -> SimulatedOuting, about ten minutes with a story
    steady_rider(setup, speed, cadence, size=... | peak=..., share=..., seconds=...) -> Ride, series at 1 kHz

From the inside out: `waveform` (foot force of a pump), `craft` (drag and masses), `ride` (two bodies, lift, drag,
speed), `aloft` (an attempt and its truth), `foot` and `water` (everything that is no pump), `story` (the kinds),
`sensor` (pouch and phone), `satellite` (speed), `outing` (all of it).

Exactness: truth is read from the specific force at 1 kHz between samples; onset and push end are good to well under
0.1 ms."""

from cadence_coach.sim.outing import KINDS, SimulatedOuting, demo_outing, simulate_outing
from cadence_coach.sim.steady import steady_rider

__all__ = ["KINDS", "SimulatedOuting", "demo_outing", "simulate_outing", "steady_rider"]
