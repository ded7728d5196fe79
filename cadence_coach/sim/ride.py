"""Rider over board and foil as two bodies: from the foot force to body, foil, lift, drag and speed.

The rider's feet press with n g on the board. Body: z'' = (n - 1) g. The foil heaves so that the part of the force in phase
with its descent carries the power; the rest of the force accelerates board, foil and the water that moves with them. Lift is
normal to the foil's path, so that its forward part is -L v_f / V. Momentum then gives the speed. Over a steady cycle

    leg power = mean F (v_b - v_f) = V mean D

comes out by itself (nothing here enforces it); tests check it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim.craft import Craft
from cadence_coach.sim.waveform import DT, Pumps, foot_force, onsets_of

CORRECTION = 2 * np.pi * 0.12
"""Natural frequency [rad/s] at which a rider brings the mean height of the body back; damping 0.8."""
DAMPING = 0.8


@dataclass
class Ride:
    """All at DT. `theta` grows by 2 pi a pump; `n` specific force of the body [g]; body and foil height [m] and velocity [m/s] (up); `lift`, `drag` [N];
    `speed` [m/s]; `leg_power` [W]; `onsets` planned onsets [s], one more than pumps; `heave` [m] and `active`
    (in-phase force amplitude, in g) of each pump; `limited` whether legs or force kept a pump from its power."""

    t: np.ndarray
    theta: np.ndarray
    n: np.ndarray
    body: np.ndarray
    body_velocity: np.ndarray
    foil: np.ndarray
    foil_velocity: np.ndarray
    lift: np.ndarray
    drag: np.ndarray
    speed: np.ndarray
    leg_power: np.ndarray
    onsets: np.ndarray
    heave: np.ndarray
    active: np.ndarray
    limited: np.ndarray


def body_motion(u: np.ndarray, velocity: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Height [m], velocity [m/s] and specific force [g] of a body whose legs are told u = n - 1, while it slowly corrects
    its height; it starts at height 0 with `velocity`."""
    from scipy.signal import cont2discrete, lfilter

    w, c = CORRECTION, DAMPING
    num, den, _ = cont2discrete(([G], [1.0, 2 * c * w, w * w]), DT, method="foh")
    z = lfilter(np.ravel(num), den, u)
    t = np.arange(len(u)) * DT
    wd = w * np.sqrt(1 - c * c)
    z = z + velocity / wd * np.exp(-c * w * t) * np.sin(wd * t)
    v = np.gradient(z, DT)
    n = 1.0 + u - (2 * c * w * v + w * w * z) / G
    return z, v, n


def split(craft: Craft, r: float, cadence: float, power: float) -> tuple[float, float, bool]:
    """Active amplitude r_a [g] and heave H [m] that carry `power` [W] with a once-per-pump amplitude r, and whether force or
    legs keep the rider below it. From P = m g r_a w H / 2 and r^2 = r_a^2 + (mu w^2 H / g)^2, the root with less heave."""
    w = 2 * np.pi * cadence
    m, mu = craft.rider, craft.mu
    most = r * r * m * G * G / (4 * mu * w)
    limited = power > most
    power = float(np.clip(power, 0.0, most))
    square = r * r / 2 + np.sqrt(max(r**4 / 4 - (2 * mu * power * w / (m * G * G)) ** 2, 0.0))
    active = float(np.sqrt(square))
    heave = 2 * power / (m * G * active * w) if active > 0 else 0.0
    room = (craft.leg_stroke / 2) ** 2 - (active * G / w**2) ** 2
    legs = np.sqrt(room) / (1 + mu) if room > 0 else 0.0
    allowed = min(craft.heave_limit, legs)
    return active, min(heave, allowed), limited or heave > allowed


def ride(
    craft: Craft,
    pumps: Pumps,
    *,
    speed: float,
    target: float | None = None,
    lead: np.ndarray | None = None,
    tail: np.ndarray | None = None,
    sink: float = 0.0,
    assist: float = 0.0,
    carried: bool = False,
    touch: float = 0.0,
) -> Ride:
    """Fly `pumps` from `speed` [m/s]. The rider aims at `target` speed (the first one by default).

    lead, tail: n - 1 before the first and after the last pump. sink: downward speed of the body at the start [m/s], which
    the lead has to take up. assist: a constant forward force [N], as of a wave's slope; `carried` adds what a pump lacks (a
    run down a swell). touch: extra drag [N] in the tail, as of a board on the water.
    """
    lead = np.zeros(0) if lead is None else lead
    tail = np.zeros(0) if tail is None else tail
    if len(pumps):
        u, index = foot_force(pumps)
    else:
        u, index = np.zeros(0), np.zeros(0, int)
    first = len(lead)
    u = np.concatenate([lead, u, tail])
    z, v, n = body_motion(u, -sink)
    return _fly(craft, pumps, index, first, (z, v, n), speed, target or speed, assist, carried, touch)


def _fly(
    craft: Craft,
    pumps: Pumps,
    index: np.ndarray,
    first: int,
    body: tuple[np.ndarray, np.ndarray, np.ndarray],
    v0: float,
    target: float,
    assist: float,
    carried: bool,
    touch: float,
) -> Ride:
    z, v, n = body
    size = len(n)
    foil, foil_v = np.zeros(size), np.zeros(size)
    lift, drag, speed = np.zeros(size), np.zeros(size), np.zeros(size)
    count = len(pumps)
    heave, active, limited = np.zeros(count), np.zeros(count), np.zeros(count, bool)
    edges = onsets_of(pumps) if count else np.zeros(1)
    theta = _phase(edges, first, size)
    now, h_before, at_before, trim = v0, 0.0, 0.0, 0.0
    cuts = [0, *(first + np.round(edges * 1000).astype(int)), size] if count else [0, size]
    for i in range(len(cuts) - 1):
        a, b = cuts[i], cuts[i + 1]
        if b <= a:
            continue
        k = i - 1
        cadence, push = 1.5, assist
        h, at = 0.0, at_before
        if 0 <= k < count:
            cadence = 1000.0 / (b - a)
            c1 = 2 * np.mean((n[a:b] - 1) * np.exp(-1j * theta[a:b]))
            r, lean = abs(c1), np.angle(c1)
            osc = 0.5 * craft.rho * now**2 / 2 * craft.wing_area * craft.unsteady(now, cadence)
            cl1 = craft.rider * G * r / (craft.rho * now**2 / 2 * craft.wing_area)
            trim = float(np.clip(trim + (target - now) / cadence / 12.0, -0.3, 0.3))
            need = now * (craft.steady_drag(now) + osc * cl1**2 - assist) + craft.mass * now * (
                (target - now) / 2.5 + trim
            )
            ra, h, lim = split(craft, r, cadence, need)
            heave[k], active[k], limited[k] = h, ra, lim
            delta = np.arctan2(ra, craft.mu * (2 * np.pi * cadence) ** 2 * h / G)
            at = -lean - delta  # the foil's height goes with cos(theta - at)
            at = at_before + (at - at_before + np.pi) % (2 * np.pi) - np.pi if h_before else at
            if carried and lim:
                push = assist + max(0.0, need - 0.5 * craft.rider * G * ra * 2 * np.pi * cadence * h) / now
        s = np.linspace(0, 1, b - a, endpoint=False)
        s = s * s * s * (10 - 15 * s + 6 * s * s)
        big = h_before + (h - h_before) * s
        start = at_before if h_before else at
        angle = theta[a:b] - (start + (at - start) * s)
        foil[a:b] = big * np.cos(angle)
        lo = max(a - 2, 0)
        fv = np.gradient(foil[lo:b], DT)[a - lo :] if b - lo > 2 else np.zeros(b - a)
        fa = np.gradient(fv, DT) if b - a > 2 else np.zeros(b - a)
        foil_v[a:b] = fv
        force = craft.rider * G * n[a:b]
        lift[a:b] = force + craft.gear * (G + fa)
        # The circulation carries the lift and what heaves the added mass besides; only it sheds and induces drag.
        swing = lift[a:b] + craft.added_mass * fa - craft.weight
        k_osc = craft.unsteady(now, cadence)
        here = np.full(b - a, now)
        extra = touch if i == len(cuts) - 2 else 0.0
        for _ in range(2):
            qs = craft.rho * here**2 / 2 * craft.wing_area
            d = craft.steady_drag(here) + 2 * craft.induced * swing * craft.weight / qs + k_osc * swing**2 / qs
            d = d + extra
            thrust_power = -lift[a:b] * fv - d * here + push * here
            energy = 0.5 * craft.mass * now**2 + np.cumsum(thrust_power) * DT
            here = np.sqrt(np.maximum(2 * energy / craft.mass, 0.25))
        drag[a:b], speed[a:b] = d, here
        now, h_before, at_before = float(here[-1]), h, at
    foil_v = np.gradient(foil, DT)
    power = craft.rider * G * n * (v - foil_v)
    t = np.arange(size) * DT
    return Ride(t, theta, n, z, v, foil, foil_v, lift, drag, speed, power, first * DT + edges, heave, active, limited)


def _phase(edges: np.ndarray, first: int, size: int) -> np.ndarray:
    """A smooth angle that grows by 2 pi a pump, over all samples."""
    t = (np.arange(size) - first) * DT
    if len(edges) < 2:
        return np.zeros(size)
    if len(edges) == 2:
        rate = 2 * np.pi / edges[1]
        return rate * t
    from scipy.interpolate import CubicSpline

    spline = CubicSpline(edges, 2 * np.pi * np.arange(len(edges)), bc_type="natural")
    inside = np.clip(t, edges[0], edges[-1])
    theta, rate = spline(inside), spline(inside, 1)
    return theta + rate * (t - inside)
