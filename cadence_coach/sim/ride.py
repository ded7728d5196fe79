"""Rider over board and foil as two bodies: from the foot force to body, foil, lift, drag and speed.

The rider's feet press with n g on the board. Body: z'' = (n - 1) g. The foil heaves so that the part of the force in
phase with its descent carries the power; the rest accelerates board, foil and the water that moves with them. Lift is
normal to the foil's path, so that its forward part is -L v_f / V. Momentum then gives the speed. Over a steady cycle

    leg power = mean F (v_b - v_f) = V mean D

comes out by itself (nothing here enforces it); tests check it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from cadence_coach.sim.craft import Craft
from cadence_coach.sim.waveform import DT, Force, Pumps, foot_force, smooth

CORRECTION = 2 * np.pi * 0.1
"""Natural frequency [rad/s] at which a rider brings the mean height of the body back; damping 0.8."""
DAMPING = 0.8
TOUCHED = 0.88
"""Share of the stall speed at which the board is on the water again."""


@dataclass
class Ride:
    """Everything at DT from the start of the lead.

    t [s]; theta grows by 2 pi a pump; n specific force of the body [g]; body, foil: height [m], and velocity [m/s]
    (up); lift, drag [N]; speed [m/s]; leg_power [W]. A pump each: onsets planned [s] (one more than pumps), heave
    amplitude of the foil [m], active part of the force [g], limited: whether force or legs kept it from the power it
    was to give. stalled: first sample at which the speed is too low to fly, or None."""

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
    stalled: int | None


@cache
def _correcting() -> tuple[np.ndarray, np.ndarray]:
    """z'' + 2 c w z' + w^2 z = u in steps of DT, u a straight line between samples."""
    from scipy.signal import cont2discrete

    w, c = CORRECTION, DAMPING
    num, den, _ = cont2discrete(([1.0], [1.0, 2 * c * w, w * w]), DT, method="foh")
    return np.ravel(num), den


def body_motion(u: np.ndarray, velocity: float, gravity: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Height [m], velocity [m/s] and specific force [g] of a body whose legs are told u = n - 1, while it slowly
    corrects its height; it starts at height 0 with `velocity`."""
    from scipy.signal import lfilter

    w, c = CORRECTION, DAMPING
    num, den = _correcting()
    t = np.arange(len(u)) * DT
    wd = w * np.sqrt(1 - c * c)
    z = lfilter(gravity * num, den, u) + velocity / wd * np.exp(-c * w * t) * np.sin(wd * t)
    v = np.gradient(z, DT)
    return z, v, 1.0 + u - (2 * c * w * v + w * w * z) / gravity


def split(craft: Craft, r: float, cadence: float, power: float) -> tuple[float, float, bool]:
    """Active amplitude r_a [g] and heave H [m] that carry `power` [W] with a once-per-pump amplitude r [g], and whether
    force or legs fall short of it.

    P = m g r_a w H / 2 and r^2 = r_a^2 + (mu w^2 H / g)^2, the root with less heave; the leg stroke
    2 sqrt((r_a g/w^2)^2 + (H (1 + mu))^2) and the heave stay within the set-up's limits.
    """
    w, m, mu, g = 2 * np.pi * cadence, craft.rider, craft.mu, craft.gravity
    most = r * r * m * g * g / (4 * mu * w)
    square = r * r / 2 + np.sqrt(max(r**4 / 4 - (2 * mu * float(np.clip(power, 0, most)) * w / (m * g * g)) ** 2, 0.0))
    active = float(np.sqrt(square))
    heave = 2 * float(np.clip(power, 0, most)) / (m * g * active * w) if active > 0 else 0.0
    room = (craft.setup.stroke / 2) ** 2 - (active * g / w**2) ** 2
    allowed = min(craft.setup.heave_limit, float(np.sqrt(max(room, 0.0))) / (1 + mu))
    return active, min(heave, allowed), power > most or heave > allowed


def ride(
    craft: Craft,
    pumps: Pumps,
    *,
    speed: float,
    target: float | None = None,
    lead: np.ndarray | None = None,
    tail: np.ndarray | None = None,
    sink: float = 0.0,
    rope: float = 0.0,
    carried: bool = False,
    touch: float = 0.0,
    swinging: bool = False,
) -> Ride:
    """Fly `pumps` from `speed` [m/s]; the rider aims at `target` speed (the first one by default).

    lead, tail: n - 1 before the first and after the last pump. sink: downward speed of the body at the start [m/s],
    which the lead has to take up. rope: seconds of the lead in which a pull holds the speed. carried: a wave's slope
    gives what a pump lacks. touch: extra drag [N] in the tail, as of a board on the water. swinging: the first pump
    finds body and foil in full swing already."""
    lead = np.zeros(0) if lead is None else lead
    tail = np.zeros(0) if tail is None else tail
    force = foot_force(pumps)
    start = -sink
    if swinging:  # the downward speed at which a steady pump begins
        start = -float(np.max(np.cumsum(force.u[: round(pumps.edges[1] / DT)]))) * DT * craft.gravity / 2
    body = body_motion(np.concatenate([lead, force.u, tail]), start, craft.gravity)
    flown = _Flight(craft, pumps, force, len(lead), body, speed, target or speed)
    flown.rope, flown.carried, flown.touch, flown.swinging = rope, carried, touch, swinging
    return flown.fly()


class _Flight:
    """One ride in the making: pump after pump, so that each can answer the speed it finds."""

    def __init__(
        self, craft: Craft, pumps: Pumps, force: Force, first: int, body: tuple[np.ndarray, ...],
        speed: float, target: float,
    ) -> None:  # fmt: skip
        self.craft, self.pumps, self.first, self.target = craft, pumps, first, target
        self.z, self.v, self.n = body
        size, count = len(self.n), len(pumps)
        self.theta = _phase(pumps, force, first, size)
        self.free = np.ones(size)
        self.free[first : first + len(force.free)] = force.free
        if pumps.open_end and count:
            self.free[first + len(force.free) :] = 0.0
        self.foil, self.lift, self.drag, self.speed = (np.zeros(size) for _ in range(4))
        self.heave, self.active, self.limited = np.zeros(count), np.zeros(count), np.zeros(count, bool)
        self.now, self.h, self.at, self.trim = speed, 0.0, 0.0, 0.0
        self.pull, self.begun = 0.0, 0
        self.rope, self.carried, self.touch, self.swinging = 0.0, False, 0.0, False

    def fly(self) -> Ride:
        size, count, craft = len(self.n), len(self.pumps), self.craft
        edges = self.pumps.edges if count else np.zeros(1)
        cuts = [0, *(self.first + np.round(edges / DT).astype(int)), size]
        for i in range(len(cuts) - 1):
            a, b = cuts[i], min(cuts[i + 1], size)
            if b - a < 3:
                continue
            k = i - 1
            before_h, before_at, self.pull = self.h, self.at, 0.0
            if k < 0 < count:  # the foil rises for the first pump while the rider gets light before it
                self._answer(0, b, min(cuts[2], size))
            elif 0 <= k < count and (k or not self.first):
                self._answer(k, a, b)
            elif k >= count:
                self.h = 0.0
                self.pull = 0.6 * float(craft.drag(self.now)) if self.carried else 0.0
            if self.swinging and k == 0:
                before_h, before_at = self.h, self.at
            self._through(a, b, before_h, before_at, k)
        foil_v = np.gradient(self.foil, DT)
        power = craft.rider * craft.gravity * self.n * (self.v - foil_v)
        slow = np.flatnonzero(self.speed[self.first :] < TOUCHED * craft.stall)
        return Ride(
            np.arange(size) * DT, self.theta, self.n, self.z, self.v, self.foil, foil_v, self.lift, self.drag,
            self.speed, power, self.first * DT + edges, self.heave, self.active, self.limited,
            int(slow[0]) + self.first if len(slow) else None,
        )  # fmt: skip

    def _answer(self, k: int, a: int, b: int) -> None:
        """How far the foil is to heave in pump k, and when, for the speed found at its start."""
        craft = self.craft
        now = float(np.mean(self.speed[self.begun : a])) if k else self.target if self.swinging else self.now
        self.begun = a
        cadence = 1.0 / self.pumps.period[k]
        if not (self.pumps.open_end and k == len(self.pumps) - 1 and k):
            w = self.free[a:b] > 0.999 if self.free[a:b].min() < 1 else slice(None)
            c1 = 2 * np.mean(((self.n[a:b] - 1) * np.exp(-1j * self.theta[a:b]))[w])
            self.r, self.lean = abs(c1), float(np.angle(c1))
        area = craft.pressure_area(now)
        swing = craft.rider * craft.gravity * self.r / area
        osc = 0.5 * float(area) * craft.swing_factor(now, cadence) * float(swing) ** 2
        self.trim = float(np.clip(self.trim + (self.target - now) / cadence / 12.0, -0.3, 0.3))
        power = now * (float(craft.drag(now)) + osc) + craft.mass * now * ((self.target - now) / 2.5 + self.trim)
        active, heave, limited = split(craft, self.r, cadence, power)
        self.heave[k], self.active[k], self.limited[k] = heave, active, limited
        late = np.arctan2(active, craft.mu * (2 * np.pi * cadence) ** 2 * heave / craft.gravity)
        at = -self.lean - late  # the foil's height goes with cos(theta - at)
        self.at = self.at + (at - self.at + np.pi) % (2 * np.pi) - np.pi if self.h else at
        self.h = heave
        if self.carried and limited:
            given = 0.5 * craft.rider * craft.gravity * active * 2 * np.pi * cadence * heave
            self.pull = max(0.0, power - given) / now
        if self.carried and self.pumps.rest[k] > 1.0:
            self.pull += 0.9 * float(craft.drag(now)) * self.pumps.rest[k] / (self.pumps.rest[k] + 1 / cadence)

    def _through(self, a: int, b: int, before_h: float, before_at: float, k: int) -> None:
        """Foil, lift, drag and speed over samples a..b, the heave changing smoothly from one pump's to the next."""
        craft, n = self.craft, self.n[a:b]
        count = len(self.pumps)
        ramp = (b - a) * DT if 0 <= k < count else min((b - a) * DT, 0.45)
        s = smooth((np.arange(b - a) * DT - ((b - a) * DT - ramp if k < 0 else 0.0)) / ramp)
        angle = self.theta[a:b] - (before_at + (self.at - before_at) * s if before_h else self.at)
        self.foil[a:b] = (before_h + (self.h - before_h) * s) * self.free[a:b] * np.cos(angle)
        lo = max(a - 2, 0)
        fv = np.gradient(self.foil[lo:b], DT)[a - lo :]
        fa = np.gradient(fv, DT)
        self.lift[a:b] = craft.rider * craft.gravity * n + craft.gear * (craft.gravity + fa)
        # The circulation carries the lift and heaves the added mass besides; only it sheds vorticity and induces drag.
        swing = self.lift[a:b] + craft.added_mass * fa - craft.weight
        factor = craft.swing_factor(self.now, 1 / self.pumps.period[k] if 0 <= k < count else 0.5)
        on_rope = (np.arange(a, b) * DT < self.rope) & (k < 0)
        extra = self.touch if k >= count else 0.0
        here = np.full(b - a, self.now)
        for _ in range(3):
            area = craft.pressure_area(here)
            drag = craft.drag(here) + 2 * craft.induced * swing * craft.weight / area + factor * swing**2 / area + extra
            pull = np.where(on_rope, drag, self.pull)
            power = -self.lift[a:b] * fv + (pull - drag) * here
            energy = 0.5 * craft.mass * self.now**2 + np.cumsum(power) * DT
            here = np.sqrt(np.maximum(2 * energy / craft.mass, 0.09))
        self.drag[a:b], self.speed[a:b], self.now = drag, here, float(here[-1])


def _phase(pumps: Pumps, force: Force, first: int, size: int) -> np.ndarray:
    """A smooth angle that grows by 2 pi a pump and stands still in rests, over all samples."""
    count = len(pumps)
    if not count:
        return np.zeros(size)
    edges = np.concatenate([[0.0], np.cumsum(pumps.period)])
    after = force.active[-1] + np.arange(1, size - first - len(force.active) + 1) * DT
    t = np.concatenate([(np.arange(first) - first) * DT, force.active, after])
    if count == 1:
        return 2 * np.pi / edges[1] * t
    from scipy.interpolate import CubicSpline

    spline = CubicSpline(edges, 2 * np.pi * np.arange(count + 1), bc_type="natural")
    inside = np.clip(t, edges[0], edges[-1])
    return np.asarray(spline(inside) + spline(inside, 1) * (t - inside))
