"""The outing that `cadence-coach demo` shows: one invented rider's hour cut to ten minutes, with a story in it."""

from __future__ import annotations

import attrs
import numpy as np

from cadence_coach.core.units import G
from cadence_coach.foil.profile import demo_profile
from cadence_coach.sim import foot, water
from cadence_coach.sim.craft import Craft
from cadence_coach.sim.sensor import Sensor
from cadence_coach.sim.story import Outing
from cadence_coach.sim.style import Style, draw_pumps

TRIES = (
    # start, pumps, seconds from landing to first push, how it ends, cadence [Hz], peak [g], rest after it [s]
    ("run_up", 0, None, "fall", 1.75, 1.60, 16.0),
    ("run_up", 2, 0.95, "touch_down", 1.72, 1.60, 16.0),
    ("run_up", 12, 0.50, "touch_down", 1.72, 1.62, 22.0),
    ("run_up", 18, 0.45, "touch_down", 1.70, 1.64, 28.0),
    ("step", 22, None, "fall", 1.70, 1.66, 30.0),
    ("run_up", 26, 0.40, "touch_down", 1.70, 1.66, 34.0),
    ("run_up", 80, 0.36, "coast_out", 1.52, 1.95, 60.0),
    ("run_up", 24, 0.42, "touch_down", 1.70, 1.64, 20.0),
)
"""The rider has one fault: quick, small pumps, too weak to carry the board, so that it sinks after a dozen however the
flight was meant to go on (`Outing.attempt` ends it then). Once, slower and deeper, it carries; then the old way again.
A rider who cannot hear the coach, so every small flight is called out."""


def demo_sensor() -> Sensor:
    """An ordinary phone in a snug pouch on the lower back, 100 Hz, with gyroscope."""
    return Sensor(
        rate=100.0, rate_off=0.004, jitter=0.0012, ring=11.0, damping=0.35, ring_gain=0.5, burst=0.1,
        noise=0.025, bias=0.02,        step=1 / 1024, range=8.0, gaps=0.3, gap=0.2, spikes=0.5,
    )  # fmt: skip


def demo_story(rng: np.random.Generator) -> Outing:
    """The story: walking down to the water, two tries that are no flight, short flights on small pumps, one long one, a
    last short one."""
    out = Outing(rng, Craft(attrs.evolve(demo_profile().setup, gravity=G)), harsh=0.25, wild=0.3)
    foot.stand(out.track, 6.0)
    foot.walk(out.track, 38.0)
    foot.stand(out.track, 9.0)
    for start, count, gap, end, cadence, peak, rest in TRIES:
        out.attempt(start, draw_pumps(rng, _style(cadence, peak, count), count), end=end, gap=gap, carried=False)
        water.float_about(out.track, rng.uniform(3, 5))
        water.swim(out.track, 8.0 + min(count, 40) * 0.6, on_board=count > 10)
        water.climb(out.track)
        foot.stand(out.track, 0.3 * rest)
        foot.walk(out.track, 7.0)
        foot.stand(out.track, 0.7 * rest, fidget=0.4)
    foot.walk(out.track, 24.0)
    foot.stand(out.track, 4.0)
    return out


def _style(cadence: float, peak: float, count: int) -> Style:
    return Style(
        cadence=cadence, cv=0.035 if count > 20 else 0.05, share=0.44, peak=peak, drift=0.07 if count > 20 else 0.0,
        fade=0.14 if count > 20 else 0.05, shoulder_kind=1 if count > 5 else 0, shoulder=0.2,
        shoulder_height=0.2, peak_at=0.47,        flat=0.03, dip_at=0.5, dip_flat=0.05, dip_level=0.0, rest_chance=0.0,
    )  # fmt: skip
