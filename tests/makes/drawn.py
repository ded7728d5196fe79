"""Outings whose waveforms are drawn, not simulated, with no physics behind them.

A pump is a push like a half-sine, often with a ledge before it or a bump in the glide after it, and a glide that makes
its mean 1 g. A rider keeps to a Style: pumping 1.05-1.95 Hz, period CV 2-7 %, push share of the period 0.18-0.55, peak
1.4-2.6 g, lower where the glide would sink under 0.07 g; single pumps scatter about it (share 5 %, height 7 %). Starts,
falls, swims and walks are drawn likewise. The phone lies any way round; it may ring (7-18 Hz, damping ratio
0.18-0.6), stamp its rows wrong (SD to 3 ms), lose up to 0.35 s of them, and show spikes. All values are our own choice.

`story_of` gives the motion at 1 kHz with its truth (`drawn_motion`), `drawn_outing` what a phone makes of it
(`drawn_phone`). Weights are fitted to such outings, and others, of other seeds, are scored.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim import SimulatedOuting

from .drawn_motion import DT, PI, Array, Story, eased, phase, samples
from .drawn_phone import recorded

KINDS = ("calm", "rough", "short", "long", "tow", "step", "mixed", "foot")
"""short: 0-9 pumps; long: 60-110; foot: no pump at all. The others differ in harshness and start."""
MORE = ("shore", "weak")
"""Kinds that `fit_likely` learns from and nothing is scored on. shore: what is easily taken for pumping ashore, in
shallow water and in a boat, no pump; weak: 0-6 pumps of 1.2-1.8 g, the first and the last weaker and slower still."""
HARSH = {"calm": 0.1, "rough": 1.0, "mixed": 0.6}
"""How much the phone spoils, 0-1; 0.4 otherwise."""
RATES = (50.0, 100.0, 200.0)


@dataclass(frozen=True)
class Style:
    """How a rider pumps in one attempt."""

    cadence: float
    """[Hz] 1.05-1.95"""
    cv: float
    """Period's SD over its mean, 0.02-0.07."""
    share: float
    """Push share of the period, 0.18-0.55."""
    peak: float
    """[g] 1.4-2.6, before `pump` limits the glide."""
    skew: float
    power: float
    shoulder: int
    """0 none, 1 a ledge before the push, 2 a bump late in the glide."""
    ledge: float
    """Share of the push that the ledge lasts."""
    height: float
    """Of ledge or bump, share of the push's or glide's own."""
    glide_skew: float
    glide_flat: float
    drift: float
    """Share that the period changes over 30 pumps, SD 0.05."""
    fade: float
    """Share of its height that the push loses over 30 pumps, 0-0.25."""
    frail: float = 0.0
    """The first push and the last are lower by up to this share, and longer by up to half of it."""


def draw_style(r: np.random.Generator) -> Style:
    return Style(
        cadence=r.uniform(1.05, 1.95), cv=r.uniform(0.02, 0.07), share=r.uniform(0.18, 0.55), peak=r.uniform(1.4, 2.6),
        skew=r.uniform(0.75, 1.3), power=r.uniform(0.85, 1.3), shoulder=int(r.choice([0, 1, 2], p=[0.5, 0.3, 0.2])),
        ledge=r.uniform(0.15, 0.4), height=r.uniform(0.1, 0.4), glide_skew=r.uniform(0.8, 1.25),
        glide_flat=r.choice([0, r.uniform(0, 0.9)]), drift=r.normal(0, 0.05), fade=r.uniform(0, 0.25),
    )  # fmt: skip


Cycle = tuple[float, float, float]
"""A pump as drawn: period [s], push share, height of its push over 1 g [g]."""


def pump(r: np.random.Generator, cycle: Cycle, style: Style) -> Array:
    """Specific force less 1 g of one pump, mean zero [g]; a push that would need a glide under 0.07 g is made lower."""
    period, share, height = cycle
    x = phase(period)
    y, z = x / share, np.clip((x - share) / (1 - share), 0, 1)
    push = np.where(x < share, np.sin(PI * np.clip(y, 0, 1) ** style.skew) ** style.power, 0.0)
    if style.shoulder == 1 and r.random() < 0.9:
        first = style.ledge
        ledge = style.height * np.sin(PI * np.clip(y / (1.6 * first), 0, 1)) * (y < 1.6 * first)
        main = np.where(y > first, np.sin(PI * np.clip((y - first) / (1 - first), 0, 1)), 0.0)
        push = np.where(x < share, np.maximum(main, 0) + ledge, 0.0)
    round_, flat = np.sin(PI * z**style.glide_skew), 1 - (2 * z - 1) ** 6
    glide = np.where(x >= share, round_ * (1 - style.glide_flat) + style.glide_flat * flat, 0.0)
    if style.shoulder == 2:
        glide = glide * (1 - style.height * 1.2 * np.sin(PI * np.clip((z - 0.6) / 0.33, 0, 1)) ** 2)
    push = height * push
    depth, most = push.sum() / max(glide.sum(), 1e-9), 0.93
    return push * min(1, most / depth) - min(depth, most) * glide


def cycles(r: np.random.Generator, count: int, style: Style) -> list[Cycle]:
    drawn: list[Cycle] = []
    slow = 0.0
    for k in range(count):
        gone = min(1, count / 30) * k / max(count - 1, 1)
        slow = 0.8 * slow + 0.3 * r.standard_normal()
        change = style.cv * (0.9 * r.standard_normal() + 0.4 * slow) + style.drift * gone
        period = float(np.clip((1 + change) / style.cadence, 0.4, 1.2))
        share = float(np.clip(style.share * (1 + 0.05 * r.standard_normal()), 0.16, 0.58))
        height = (style.peak - 1) * (1 - style.fade * gone) * (1 + 0.07 * r.standard_normal())
        if k == 0:
            period, height = period * r.uniform(0.9, 1.25), height * r.uniform(0.7, 1.2)
        if style.frail and k in (0, count - 1):
            less = style.frail * r.random()
            period, height = period * (1 + 0.5 * less), height * (1 - less)
        drawn.append((period, share, max(height, 0.12 if style.frail else 0.2)))
    return drawn


Run = tuple[list[int], list[Cycle]]
"""Pumps without a pause: sample at which each begins, and how it was drawn."""


def pump_run(story: Story, count: int, style: Style, end: str) -> Run:
    r = story.rng
    tilt = r.uniform(0, 0.35) * r.choice([0.3, 1.0])
    lag, fore, side = r.uniform(-3, 3), r.uniform(0, 0.3), r.uniform(0, 0.12)
    drawn = cycles(r, count, style)
    waves = [pump(r, cycle, style) for cycle in drawn]
    if end == "fall":  # somewhere after the last push
        share = drawn[-1][1]
        waves[-1] = waves[-1][: int(len(waves[-1]) * (share + (1 - share) * r.uniform(0.3, 1)))]
    begins = np.cumsum([0] + [len(wave) for wave in waves])
    m = int(begins[-1])
    turn = np.interp(np.arange(m), begins, 2 * PI * np.arange(count + 1))
    e = eased(np.arange(m) * DT / 0.5)
    lean = r.uniform(0.05, 0.5)
    n, f = story.wobbles(m, 0.012, 0.3, 0.03, 0.3)
    sway = side * e * np.cos(turn / r.choice([1, 2]) + lag)
    first = story.length
    story.add(
        1 + np.concatenate(waves) + n, fore * e * np.cos(turn + lag) + f, sway + 0.03 * story.wobble(m, 0.3),
        tilt * e * np.cos(turn + lag + 0.5), tilt * 0.3 * e * np.cos(turn / 2),
        to=lean, to_roll=r.normal(0, 0.08), speed=story.speed * r.uniform(0.8, 1.1),
    )  # fmt: skip
    return [first + int(b) for b in begins], drawn


def measure(story: Story, runs: list[Run], style: Style, started_by: str, ended_by: str) -> None:
    """Truth from the clean force: an onset is the first upward crossing of 1 g after the low before a push, a push
    end the next downward one after its top, both between samples."""
    n = story.whole()[0]

    def crossing(i: int) -> float:
        return float(i + (1 - n[i]) / (n[i + 1] - n[i])) * DT

    out = []
    for begins, drawn in runs:
        for k, (period, share, _) in enumerate(drawn):
            s, m = begins[k], int(period / DT)
            low_from = max(s - (250 if k else 200), 0)
            last = min(s + int((share + 0.12) * period / DT), len(n) - 1)
            low = low_from + int(np.argmin(n[low_from : s + 30]))
            top = max(low, s)
            top += int(np.argmax(n[top:last]))
            up = np.flatnonzero((n[low:top] < 1) & (n[low + 1 : top + 1] >= 1))
            after = n[top : top + m + 1]
            down = np.flatnonzero((after[:-1] >= 1) & (after[1:] < 1))
            if len(up) and len(down):
                onset, push_end = crossing(low + int(up[0])), crossing(top + int(down[0]))
                one = {"onset_s": onset, "push_end_s": push_end, "peak_s": top * DT, "peak_g": float(n[top])}
                out.append(one | {"travel_m": None})
    onsets = np.array([p["onset_s"] for p in out])
    story.attempts.append({"onsets_s": onsets.tolist(), "style": style})
    if len(out) < 3:
        return
    gaps = np.diff(onsets)
    cuts = [0, *(np.flatnonzero(gaps > max(1.6, 2.5 * np.median(gaps))) + 1), len(out)]
    for a, b in pairwise(cuts):
        if b - a >= 3:
            over = float(onsets[b - 1] + np.median(np.diff(onsets[a:b])[-5:]))
            by, end = started_by if a == 0 else "unknown", ended_by if b == len(out) else "coast_out"
            flight = {"start_s": float(onsets[a]), "end_s": over, "pumps": int(b - a)}
            story.flights.append(flight | {"started_by": by, "ended_by": end})
            story.pumps += out[a:b]


def bump(story: Story, seconds: float, size: float) -> None:
    """A half-sine of size [g]."""
    story.add(1 + size * np.sin(PI * phase(seconds)))


def start_by(story: Story, start: str, flying: float) -> None:
    """From the shore or behind a tow to flying [m/s]."""
    r = story.rng
    if start == "run_up":
        count, rate, duty = int(r.integers(3, 13)), r.uniform(2.3, 3.2), r.uniform(0.5, 0.85)
        heel, lean = r.uniform(0.1, 1.0), r.uniform(0.1, 0.3)
        story.steps(count, rate, 1.0, duty, heel, min(flying, 5.0), lean=lean, cv=0.04)
        v = story.leap(r.uniform(0.14, 0.42), r.uniform(0, 0.5))
        story.speed = flying
        landing = max(r.uniform(0.07, 0.2), v / 28)
        s = np.sin(PI * phase(landing))
        story.add(1 + v / (G * samples(landing) * DT * 2 / PI) * s, -0.3 * s, 0.2 * s * r.normal())
        if r.random() < 0.4:
            bump(story, r.uniform(0.08, 0.16), -0.2)
            bump(story, r.uniform(0.1, 0.16), r.uniform(0.2, 0.8))
        m = samples(r.uniform(0.1, 0.9))
        story.add(1 - 0.06 * eased(np.arange(m) * DT / 0.1) + 0.02 * story.wobble(m, 0.2))
    elif start == "tow":
        m = samples(r.uniform(2.5, 7))
        h = r.uniform(0.03, 0.14)
        n, more, fore, side, pitch = story.wobbles(m, h, 0.06, 0.05, 0.25, h * 0.6, 0.08, h * 0.5, 0.08, 0.06, 0.5)
        story.add(1 + n + more, 0.08 + fore, side, pitch, to=r.uniform(0.1, 0.4), to_roll=0.0, speed=flying)
        x = phase(r.uniform(0.4, 0.9))
        story.add(1 + r.uniform(0.15, 0.5) * np.sin(2 * PI * x))
        n, fore = story.wobbles(samples(r.uniform(1.0, 7.0)), 0.025, 0.6, 0.02, 0.4)
        story.add(1 + n, fore, speed=flying)
    else:
        if r.random() < 0.6:
            count, rate = int(r.integers(2, 6)), r.uniform(1.7, 2.6)
            story.steps(count, rate, r.uniform(0.2, 0.5), None, r.uniform(0.1, 0.8), 2.0)
        story.speed = r.uniform(2.5, 4.5)
        bump(story, r.uniform(0.2, 0.35), r.uniform(0.1, 0.45))
        s = np.sin(PI * phase(r.uniform(0.15, 0.35)))
        story.add(1 - r.uniform(0.15, 0.5) * s, 0.2 * s)
        bump(story, r.uniform(0.15, 0.3), r.uniform(0.2, 0.8))
        story.kicks.append((story.now, 0.4))
        story.add(np.full(samples(r.uniform(0.1, 0.5)), 0.97))


Pumping = Callable[[Story, int, Style, str], Run]
"""Draws so many pumps of a style and what ends them."""
Starting = Callable[[Story, str, float], None]


def attempt(
    story: Story, count: int, style: Style, start: str, begin: Starting = start_by, pumping: Pumping = pump_run
) -> None:
    """A start, count pumps with a coast halfway now and then, an end."""
    r = story.rng
    end = str(r.choice(["fall", "touch_down", "coast_out"], p=[0.6, 0.2, 0.2]))
    begin(story, start, r.uniform(3.2, 6.0))
    x = phase(r.uniform(0.2, 0.45))
    story.add(1 - r.uniform(0.08, 0.45) * np.sin(PI * x) ** 0.8)  # lighter before the first push
    runs = []
    if count >= 12 and r.random() < 0.15:
        runs.append(pumping(story, count // 2, style, ""))
        story.add(1 + 0.02 * story.wobble(samples(r.uniform(0.4, 4.0)), 0.6))
        bump(story, 0.3, -r.uniform(0.1, 0.4))
        count -= count // 2
    if count:
        runs.append(pumping(story, count, style, end))
    story.splash(end)
    measure(story, runs, style, "rope" if start == "tow" else start, end)


def on_foot(story: Story) -> None:
    r = story.rng
    for _ in range(int(r.integers(5, 10))):
        what = r.choice(["walk", "run", "stand", "swim", "float", "climb", "hop", "leap"])
        if what == "run":
            count, rate = int(r.integers(6, 40)), r.uniform(2.2, 3.2)
            story.steps(count, rate, 1.0, r.uniform(0.5, 0.85), r.uniform(0.1, 1.0), 4.0, cv=0.04)
        elif what == "hop":
            count, rate = int(r.integers(2, 9)), r.uniform(1.7, 2.7)
            story.steps(count, rate, 1.0, r.uniform(0.45, 0.75), r.uniform(0.1, 0.8), 0.0, cv=0.05)
        elif what == "leap":
            story.dive(0.5)
        elif what == "climb":
            story.climb()
        else:
            told, low, high = {
                "walk": (story.walk, 6, 25), "stand": (story.stand, 1, 8),
                "swim": (story.swim, 5, 20), "float": (story.drift, 3, 10),
            }[what]  # fmt: skip
            told(r.uniform(low, high))


def ashore(story: Story) -> None:
    r = story.rng
    for _ in range(int(r.integers(4, 9))):
        what = r.choice(
            ["sand", "wade", "hop", "bend", "boat", "swim", "stand"], p=[0.25, 0.2, 0.1, 0.1, 0.15, 0.1, 0.1]
        )
        if what == "hop":
            rate, duty = r.uniform(1.5, 2.6), r.uniform(0.45, 0.7)
            story.steps(int(r.integers(3, 20)), rate, 1.0, duty, r.uniform(0, 0.3), 0.0, two=0.05, cv=0.03)
        elif what == "bend":
            story.bends(int(r.integers(2, 9)))
        elif what == "boat":
            story.ride(r.uniform(8, 30))
        elif what == "swim":
            story.swim(r.uniform(6, 25))
        elif what == "stand":
            story.stand(r.uniform(1, 6))
        else:
            story.soft_walk(r.uniform(5, 25), wading=what == "wade")
        if r.random() < 0.4:
            story.stand(r.uniform(0.5, 3))


def story_of(
    seed: int, kind: str, make: int = 77, begin: Starting = start_by, pumping: Pumping = pump_run,
    foot: Callable[[Story], None] = on_foot,
) -> Story:  # fmt: skip
    """An outing's motion and truth, of a kind in KINDS or MORE; its rng goes on to the phone. make: another number,
    another stream of random numbers."""
    r = np.random.default_rng([seed, make, (KINDS + MORE).index(kind)])
    story = Story(r)
    story.stand(r.uniform(2, 6))
    story.walk(r.uniform(4, 12))
    story.stand(r.uniform(0.5, 3))
    many = {"long": 1, "short": int(r.integers(3, 7)), "foot": 0, "shore": 0}
    usual = int(r.integers(2, 5))
    for _ in range(many.get(kind, usual)):
        style = draw_style(r)
        if kind == "weak":
            style = replace(style, peak=r.uniform(1.2, 1.8), frail=r.uniform(0.1, 0.6))
        drawn = str(r.choice(["run_up", "tow", "step"], p=[0.5, 0.25, 0.25]))
        start = kind if kind in ("tow", "step") else drawn
        counts = {"short": int(r.choice([0, 1, 2, 4, 5, 6, 7, 8, 9])), "long": int(r.integers(60, 111))}
        if kind == "weak":
            counts[kind] = int(r.choice([0, 1, 2, 3, 4, 5, 6], p=[0.05, 0.05, 0.1, 0.3, 0.2, 0.15, 0.15]))
        if kind not in counts:
            shares = [0.05, 0.05, 0.1, 0.1, 0.1, 0.15, 0.15, 0.1, 0.1, 0.1]
            counts[kind] = int(r.choice([0, 2, 4, 5, 7, 10, 15, 25, 40, 60], p=shares))
        attempt(story, counts[kind], style, start, begin, pumping)
        story.drift(r.uniform(1, 6))
        if r.random() < 0.6:
            story.swim(r.uniform(4, 12))
        if start != "tow" or r.random() < 0.3:
            story.climb()
            story.stand(r.uniform(0.5, 3))
            story.walk(r.uniform(3, 10))
            story.stand(r.uniform(0.5, 4))
    if kind == "foot":
        foot(story)
    elif kind == "shore":
        ashore(story)
    story.stand(2.0)
    return story


def drawn_outing(seed: int, kind: str, rate_hz: float, *, gyro: bool = True, speed: bool = True) -> SimulatedOuting:
    """The outing as a phone records it. In its truth `travel_m` is None; `attempts` have the onsets of every pump,
    those of no flight too, and the Style they were drawn with. The same arguments give the same outing."""
    story = story_of(seed, kind)
    accel, turns, fixes = recorded(story, rate_hz, HARSH.get(kind, 0.4), gyro, speed)
    truth = {"pumps": story.pumps, "flights": story.flights, "attempts": story.attempts}
    return SimulatedOuting(accel, turns, fixes, truth, {"kind": kind, "seed": seed})
