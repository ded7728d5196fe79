"""A train of pumps in `sprung`: one rider's cycles in a row, with the foil that they drive and the trunk that nods.

Periods drift, wobble and hesitate, effort fades; now and then a glide is held on for a beat. The foil sinks while the
legs push, and so drives the board: its heave is what keeps the speed that the rider wants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cadence_coach.core.units import G

from .drawn_motion import PI, Array
from .sprung_legs import FS, HIGHEST, POINTS, Rider


@dataclass(frozen=True)
class Plan:
    """How one train is ridden; shares unless said otherwise."""

    fade: float
    """By which the height of the push changes over the train, 30 pumps at least."""
    drift: float
    """By which the period does."""
    wobble: float
    wobble_pumps: float
    """The period swings by so much once in so many pumps."""
    hesitant: float
    """Of pumps that come later and weaker, with a stronger one after."""
    missed: float
    """Of pumps after which a beat is left out."""
    first: float
    """By which the first period is longer."""
    weak: float
    """By which the first push is lower."""
    tempo: float
    """The period by the rider's usual one, a factor."""
    sink: bool
    """Let the speed go in the last pumps."""
    cut: float
    """Of the last period that is left out at most."""
    lean: float
    """[rad] by which the trunk's pitch changes."""
    turn: float
    turn_s: float
    """[rad/s] that the board turns to and fro at most, once in so many seconds."""
    rock: float
    """How much the trunk rolls from pump to pump, 0-1."""


@dataclass(frozen=True)
class Train:
    """Pumps without a pause as they were ridden: its first sample and the one after its last, what began and ended
    it."""

    first: int
    end: int
    pumps: int
    started_by: str
    ended_by: str


def plan_of(r: np.random.Generator, count: int) -> Plan:
    u = r.uniform
    return Plan(
        fade=u(-0.35, 0.05) if count > 12 else u(-0.1, 0.1), drift=u(-0.06, 0.06), wobble=u(0, 0.012),
        wobble_pumps=u(9, 40), hesitant=u(0, 0.035), missed=u(0, 0.035) if r.random() < 0.5 else 0,
        first=u(-0.10, 0.14), weak=u(-0.05, 0.35), tempo=u(0.95, 1.05), sink=False, cut=0.12,
        lean=np.radians(u(-8, 10)), turn=u(0, 0.25) if count > 20 else u(0, 0.08), turn_s=u(8, 40), rock=r.random(),
    )  # fmt: skip


def train(r: np.random.Generator, rider: Rider, count: int, speed: float, plan: Plan) -> dict[str, Array] | None:
    """The body's columns (`sprung_body`) from the glide before the first onset into the last glide; None if the rider
    cannot. speed [m/s]: at its begin."""
    i = np.arange(count)
    gone = i / max(count - 1, 30)
    period, hesitant = _periods(r, rider, plan, i, gone)
    n, clean = rider.cycles(r, period, _peaks(r, rider, plan, i, gone, hesitant), rider.loose)
    if not clean:
        return None
    c = _course(r, plan, n, period, hesitant)
    force = _force(r, n, c)
    columns = _foil(rider, plan, c, n, gone, speed, force)
    return columns | {"n": force} | _trunk(rider, plan, c, columns["side"])


def _periods(r: np.random.Generator, rider: Rider, plan: Plan, i: Array, gone: Array) -> tuple[Array, Array]:
    """[s], and which pumps are hesitant."""
    count = len(i)
    drawn, slow = r.normal(0, 1, count), np.zeros(count)
    for k in range(count):
        slow[k] = (rider.carry * slow[k - 1] if k else 0) + drawn[k] * np.sqrt(1 - rider.carry**2)
    off = rider.cv * np.clip(slow, -2.2, 2.2) + plan.drift * gone + rider.limp_period * (-1.0) ** i
    off = off + plan.wobble * np.sin(2 * PI * i / plan.wobble_pumps + r.uniform(0, 6))
    hesitant = (r.random(count) < plan.hesitant) & (i > 2) & (i < count - 2)
    off = off + 0.13 * hesitant
    if count > 3:
        off[:2] += plan.first * np.array([1, 0.5])
    sd = off.std()
    # of a single pump the SD is 0, and its period goes to one bound or the other
    off = off * (np.clip(sd, 0.022, 0.061) / max(sd, 1e-6))
    off = off - off.mean() * 0.5
    period = np.clip(rider.period * plan.tempo * (1 + off), 0.518, 0.945)
    cv = period.std() / period.mean()
    if cv > 0.063:
        period = period.mean() + (period - period.mean()) * 0.061 / cv
    return period, hesitant


def _peaks(r: np.random.Generator, rider: Rider, plan: Plan, i: Array, gone: Array, hesitant: Array) -> Array:
    """[g]"""
    effort = 1 + plan.fade * gone + r.normal(0, 0.06, len(i)) + rider.limp * (-1.0) ** i - 0.2 * hesitant
    effort[:4] *= 1 - plan.weak * np.array([1, 0.7, 0.4, 0.2])[: len(i)]
    after = np.roll(hesitant, 1)
    after[0] = False
    return np.clip(1 + (rider.peak - 1) * (effort + 0.15 * after), 1.46, HIGHEST)


@dataclass(frozen=True)
class Course:
    """Where each sample stands. Of the pumps: period and held glide [s], the level [g] that a held glide begins at and
    how far it sinks [g]. Of the samples: t from the first onset [s], the pump k, since its onset [s], phase (0 to
    POINTS), whether in a held glide, and how far through it (0 to 1)."""

    period: Array
    hold: Array
    level: Array
    dip: Array
    lasts: float
    """[s] from the first onset to the end."""
    t: Array
    k: Array
    since: Array
    phase: Array
    held: Array
    through: Array

    @property
    def point(self) -> Array:
        """Of the cycle, just before each sample."""
        return self.phase.astype(int) % POINTS

    @property
    def turn(self) -> Array:
        """[rad] of the cycle."""
        return 2 * PI * self.phase / POINTS


def _course(r: np.random.Generator, plan: Plan, n: Array, period: Array, hesitant: Array) -> Course:
    u, count, i = r.uniform, len(period), np.arange(len(period))
    missed = (r.random(count) < plan.missed) & (i > 3) & (i < count - 3) & ~hesitant
    missed &= ~np.roll(missed, 1)
    level, dip, hold = u(0.88, 0.94, count), u(0, 0.22, count), np.zeros(count)
    hold[missed] = period[missed] * u(0.55, 1.05, missed.sum())
    longest = 2.1 * period.mean()
    hold = np.where(hold + period > longest, longest - period, hold)
    onset = np.concatenate([[0], np.cumsum(period + hold)])
    before, cut = u(0.08, 0.22) * period[0], u(0.03, plan.cut) * period[-1]
    lasts = onset[-1] - cut
    t = np.arange(int((before + lasts) * FS)) / FS - before
    k = np.clip(np.searchsorted(onset, t, "right") - 1, 0, count - 1)
    since = t - onset[k]
    # a held glide begins where the cycle is last under its level, and goes on from there afterwards
    from_phase, level_there = np.zeros(count), np.ones(count)
    for q in np.flatnonzero(hold > 0):
        j = POINTS - 1
        while j > POINTS // 2 and n[q][j] > level[q]:
            j -= 1
        from_phase[q], level_there[q] = j / POINTS, n[q][j]
    from_s, held_s = from_phase[k] * period[k], hold[k]
    held = (held_s > 0) & (since > from_s) & (since < from_s + held_s)
    own = np.where((held_s > 0) & (since >= from_s + held_s), since - held_s, since)
    phase = (np.where(t < 0, 1 + t / period[0], own / period[k]) % 1.0) * POINTS
    through = np.clip((since - from_s) / np.maximum(held_s, 1e-9), 0, 1)
    return Course(period, hold, level_there, dip, lasts, t, k, since, phase, held, through)


def _force(r: np.random.Generator, n: Array, c: Course) -> Array:
    """On the body [g]."""
    k, point, part = c.k, c.point, c.phase - np.floor(c.phase)
    following = np.where(point == POINTS - 1, 1.0, n[k, (point + 1) % POINTS])
    force = n[k, point] * (1 - part) + following * part
    force = np.where(c.held, c.level[k] - c.dip[k] * np.sin(PI * c.through) ** 2 * c.through, force)
    shape = 2 * np.sin(PI * c.phase / POINTS) ** 2
    return force + np.where(c.held | (c.t < 0), 0, _height_kept(r, c)[k] * shape)


def _height_kept(r: np.random.Generator, c: Course) -> Array:
    """[g] that each cycle's mean is off 1 g: what a held glide lost in height is given back over the next ones."""
    given, climb, height = np.zeros(len(c.period)), 0.0, 0.0
    for q, (period, hold) in enumerate(zip(c.period, c.hold, strict=True)):
        lost = -((1 - c.level[q]) + c.dip[q] * 0.25) * hold * G if hold else 0.0
        wanted = -0.5 * climb / G / period - 0.25 * height / G / period
        given[q] = np.clip(wanted + r.normal(0, 0.004), -0.014, 0.014)
        more = given[q] * G * period + lost
        height += (climb + more / 2) * period
        climb += more
    return given


def _foil(rider: Rider, plan: Plan, c: Course, n: Array, gone: Array, speed: float, force: Array) -> dict[str, Array]:
    """speed, fore, side and yaw. The foil sinks as the force's first two harmonics say, a little late."""
    waves = np.fft.rfft(n - 1, axis=1)
    waves[:, 3:] = 0
    waves[:, 1] *= np.exp(-1j * rider.late)
    waves[:, 2] *= 0.5 * np.exp(-2j * rider.late)
    sinking = np.fft.irfft(waves, POINTS, axis=1)
    least_drag = rider.weight * G / rider.glide_ratio

    def drag(v: Array | float) -> Array | float:
        """[N]"""
        return least_drag * 0.5 * ((v / rider.easiest) ** 2 + (rider.easiest / v) ** 2)

    count = len(c.period)
    heave, speeds = np.zeros(count), np.zeros(count + 1)
    for q in range(count):
        speeds[q] = speed
        wanted = rider.wanted * (1 + 0.15 * plan.fade * gone[q])
        needed = speed * drag(speed) * (1 + 3.0 * (wanted - speed) / rider.wanted)
        if plan.sink and q > count - 6:
            needed *= 0.35
        power = rider.mass * G * np.mean((n[q] - 1) * sinking[q])  # [W] for each m/s of heave
        most = 0.17 * 2 * PI / c.period[q] / max(2 * np.abs(waves[q, 1]) / POINTS, 0.1)  # under 0.19 m
        heave[q] = np.clip(needed / max(power, 1), 0, most)
        gain = (heave[q] * power / speed - drag(speed)) / rider.weight
        speed = np.clip(speed + gain * (c.period[q] + c.hold[q]), 2.6, 7.0)
    speeds[count] = speed
    k = c.k
    v = speeds[k] + (speeds[k + 1] - speeds[k]) * np.clip(c.since / (c.period + c.hold)[k], 0, 1)
    rising = -heave[k] * (sinking[k, c.point]) * np.where(c.held, 0.15, 1)
    fore = (-(rider.mass * force + rider.gear) * G * rising / v - drag(v)) / rider.weight
    yaw = plan.turn * np.sin(2 * PI * np.maximum(c.t, 0) / plan.turn_s)
    return {"speed": v, "fore": fore - np.where(c.t < 0, fore, 0), "side": v * yaw, "yaw": yaw}


def _trunk(rider: Rider, plan: Plan, c: Course, side: Array) -> dict[str, Array]:
    """pitch, roll and buzz."""
    pitch = rider.lean + plan.lean * np.clip(c.t / max(c.lasts, 1), 0, 1)
    pitch = pitch + rider.nod * np.cos(c.turn + rider.nod_phase)
    pitch = pitch + 0.1 * rider.nod * np.cos(2 * c.turn + rider.nod_phase * 2)
    rocking = np.radians(2) * np.sin(PI * (c.k + c.phase / POINTS)) * plan.rock
    landed = (c.phase / POINTS < 0.05).astype(float)
    return {
        "pitch": pitch, "roll": np.arctan2(side, G) * -0.9 + rocking, "buzz": 0.004 + 0.01 * landed * rider.landing,
    }  # fmt: skip
