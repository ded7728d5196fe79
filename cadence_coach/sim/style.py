"""How a rider means to pump: a style drawn for a flight, its pumps, and what comes before the first of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim.track import bump, wander
from cadence_coach.sim.waveform import DT, Pumps, h1, hump, smooth


@dataclass
class Style:
    """How one rider pumps in one flight: centre values and spreads; see `draw_style`. limp: every second pump bigger
    and longer by this share; shift: period after a sudden change of tempo midway, as a factor."""

    cadence: float
    cv: float
    share: float
    peak: float
    drift: float
    fade: float
    shoulder_kind: int
    shoulder: float
    shoulder_height: float
    peak_at: float
    flat: float
    dip_at: float
    dip_flat: float
    dip_level: float
    rest_chance: float
    limp: float = 0.0
    shift: float = 1.0


def draw_style(rng: np.random.Generator, *, wild: float = 1.0) -> Style:
    """Cadence 1.0-2.0 Hz, CV 2-7 %, share 0.18-0.56, peak 1.35-2.7 g; `wild` 0 keeps to the middle of all that."""
    cadence = rng.uniform(1.5 - 0.5 * max(wild, 0.3), 1.65 + 0.35 * max(wild, 0.3))
    share = rng.uniform(0.42 - 0.24 * wild, 0.5 + 0.06 * wild)
    peak = rng.uniform(1.7 - 0.35 * wild, 2.1 + 0.6 * wild)
    return Style(
        cadence=cadence, cv=rng.uniform(0.02, 0.035 + 0.035 * wild), share=share, peak=peak,
        drift=rng.normal(0, 0.05), fade=rng.uniform(0, 0.25),
        shoulder_kind=int(rng.choice([0, 1, 2, 3], p=[0.45, 0.3, 0.2, 0.05])),
        shoulder=rng.uniform(0.15, 0.4), shoulder_height=rng.uniform(0.1, 0.45),
        peak_at=rng.uniform(0.36, 0.6), flat=rng.uniform(-0.1, 0.15),
        dip_at=rng.uniform(0.38, 0.62), dip_flat=rng.uniform(-0.08, 0.15),
        dip_level=rng.choice([0.0, rng.uniform(0, 1)], p=[0.6, 0.4]) * wild,
        rest_chance=rng.choice([0.0, rng.uniform(0, 0.05)], p=[0.65, 0.35]),
        limp=rng.choice([0.0, rng.uniform(0, 0.06)], p=[0.7, 0.3]),
        shift=rng.choice([1.0, rng.uniform(0.84, 1.2)], p=[0.85, 0.15]),
    )  # fmt: skip


def draw_pumps(rng: np.random.Generator, style: Style, count: int) -> Pumps:
    """`count` pumps in this style: tempo that drifts and wavers, effort that fades, a share that varies."""
    x = np.linspace(0, 1, count) if count > 1 else np.zeros(count)
    white = rng.standard_normal(count)
    slow = np.cumsum(rng.standard_normal(count)) / np.sqrt(np.arange(count) + 8)
    length = min(1.0, count / 30)
    period = (1 + style.cv * (0.85 * white + 0.5 * slow)) * (1 + style.drift * length * x) / style.cadence
    period[count // 2 :] *= style.shift if count > 12 else 1.0
    odd = 1 + style.limp * (-1.0) ** np.arange(count)
    period *= odd
    share = np.clip(style.share * (1 + 0.06 * rng.standard_normal(count)), 0.16, 0.58)
    amplitude = (style.peak - 1) * (1 - style.fade * length * x) * (1 + 0.07 * rng.standard_normal(count)) * odd
    if count:
        period[0] *= rng.uniform(0.9, 1.25)
        amplitude[0] *= rng.uniform(0.75, 1.25)
        if count > 1:
            period[1] *= rng.uniform(0.93, 1.12)
    period = np.clip(period, 0.42, 1.15)
    # No body moves further than the legs and the heave of the board allow.
    size = np.array([h1(float(d)) for d in share]) * amplitude
    room = 0.5 * (2 * np.pi / period) ** 2 / (2 * G)
    amplitude = np.maximum(amplitude * np.minimum(1.0, room / size), 0.32)
    kind = np.full(count, style.shoulder_kind)
    kind[rng.random(count) < 0.15] = 0
    rest = np.where(rng.random(count) < style.rest_chance, rng.uniform(0.15, 0.55, count), 0.0)
    rest[np.arange(count) < 2] = 0.0
    rest[-1:] = 0.0
    vary = lambda centre, sd, lo, hi: np.clip(centre + sd * rng.standard_normal(count), lo, hi)  # noqa: E731
    return Pumps(
        period, share, amplitude, vary(style.peak_at, 0.03, 0.3, 0.66), vary(style.flat, 0.02, -0.12, 0.17),
        vary(style.dip_at, 0.03, 0.35, 0.65), vary(style.dip_flat, 0.02, -0.1, 0.17),
        vary(style.dip_level, 0.05, 0.0, 1.0), vary(style.shoulder, 0.04, 0.1, 0.42),
        vary(style.shoulder_height, 0.05, 0.06, 0.6), kind, rest,
    )  # fmt: skip


def half_push(pumps: Pumps) -> float:
    """Half the impulse of the first push [g s]: what getting light before it has to give, so that the body does not
    climb."""
    if not len(pumps):
        return 0.06
    return float(pumps.amplitude[0] * pumps.share[0] * pumps.period[0] / np.pi)


def _dip(t: np.ndarray, start: float, width: float, impulse: float) -> np.ndarray:
    """A flat-bottomed dip below 1 g that takes `impulse` [g s], at most 0.8 g deep."""
    shape = hump(np.clip((t - start) / width, 0, 1), np.array(0.5), np.array(0.12))
    return shape * min(impulse / max(float(shape.sum()) * DT, 1e-6), 0.8)


def lighter(lead: np.ndarray) -> np.ndarray:
    """The same lead with a deeper dip in its last quarter of a second."""
    width = min(0.25, len(lead) * DT)
    return lead - _dip(np.arange(len(lead)) * DT, len(lead) * DT - width, width, 0.1 * width)


def landing_lead(rng: np.random.Generator, sink: float, gap: float, impulse: float) -> np.ndarray:
    """n - 1 from the first touch of the board to the first push `gap` seconds later: one or two feet take up `sink`
    [m/s], then the rider settles and gets light by `impulse` [g s]."""
    two = rng.random() < 0.5
    width = max(rng.uniform(0.07, 0.2), sink / 26)  # legs give way so that the landing stays about 2 to 5 g
    apart = rng.uniform(0.03, 0.12) if two else 0.0
    used = width * 1.3 + apart
    gap = max(gap, used + rng.uniform(0.12, 0.3))
    t = np.arange(round(gap / DT)) * DT
    share = rng.uniform(0.3, 0.7) if two else 1.0
    unit = share * bump(t, 0, width) + ((1 - share) * bump(t, apart, width * rng.uniform(0.8, 1.3)) if two else 0.0)
    u = unit * sink * rng.uniform(0.8, 1.1) / (G * unit.sum() * DT)
    u -= 1 - smooth(t / 0.025)  # from free fall
    length = min(gap - used, rng.uniform(0.15, 0.6))
    u -= _dip(t, gap - length, length, impulse * rng.uniform(0.3, 1.1))
    if gap - length - used > 0.05:  # standing level for a moment, a touch light so that no second bump is made of it
        u -= _dip(t, used, gap - length - used, rng.uniform(0.02, 0.1) * (gap - length - used))
    return u


def glide_lead(rng: np.random.Generator, seconds: float, impulse: float) -> np.ndarray:
    """n - 1 of a level glide on the foil, getting lighter just before the first push."""
    t = np.arange(round(seconds / DT)) * DT
    u = rng.uniform(0.008, 0.045) * wander(rng, len(t), rng.uniform(0.5, 1.5)) * smooth(t / 0.3)
    length = rng.uniform(0.2, 0.5)
    return u * smooth((seconds - length - t) / 0.3) - _dip(t, seconds - length, length, impulse * rng.uniform(0.4, 1.1))


def step_lead(rng: np.random.Generator, impulse: float) -> tuple[np.ndarray, float]:
    """n - 1 of stepping onto a moving board, and when the weight comes onto it [s]: the last push of the foot ashore,
    light, weight comes onto the board, light."""
    a, b, c, d = rng.uniform(0.15, 0.3), rng.uniform(0.12, 0.3), rng.uniform(0.12, 0.3), rng.uniform(0.15, 0.6)
    t = np.arange(round((a + b + c + d) / DT)) * DT
    u = rng.uniform(0.1, 0.5) * bump(t, 0, a) - rng.uniform(0.15, 0.6) * bump(t, a, b)
    u += rng.uniform(0.25, 0.9) * bump(t, a + b, c)
    return u - _dip(t, a + b + c, d, impulse * rng.uniform(0.4, 1.1)), a + b
