"""Points and bounces made by hand, one by one: into a cycle detector and into a flight finder."""

from __future__ import annotations

from dataclasses import replace

from cadence_coach.core.cycles import RING, STEP, CycleDetector
from cadence_coach.core.events import CycleDone, Event, Onset, PushEnd
from cadence_coach.core.flights import SLOWEST_WAIT, FlightFinder

PERIOD = 0.6
"""Of bounces where nothing else is said [s]."""


def triangle(phase: float) -> float:
    """0 at phase 0, rising to 1 at a quarter, -1 at three quarters."""
    x = phase % 1.0
    return 4.0 * x if x < 0.25 else 2.0 - 4.0 * x if x < 0.75 else 4.0 * x - 4.0


class Points:
    """Shows a detector its points. The fine view is one point late, so the one at `k` stands for time (k - 1) STEP;
    the coarse view is the same without delay, unless given. Every point is shown; what it did not ask for must change
    nothing, as `front` would not have shown it."""

    def __init__(self, start: float = 0.0) -> None:
        self.detector = CycleDetector()
        self.begin(start)

    def begin(self, start: float) -> Points:
        self.detector.begin(start, 1.0)
        self.start, self.before = start, 1.0
        return self

    def show(self, s: float, c: float | None = None, raw: float | None = None) -> list[Event]:
        """What this point brought."""
        d, k = self.detector, self.detector.n
        c = s - 1.0 if c is None else c
        d.raw[k % RING], d.fine[k % RING] = s if raw is None else raw, s
        d.lowest, d.n = min(d.lowest, c), k + 1
        had = len(d.out)
        t = self.start + k * STEP
        _, below, above, fine_from, give_up = d.bounds
        asked, state = c < below or c > above or s >= fine_from or t > give_up, self._state()
        d.point(t, self.before, s, c, t)
        assert asked or self._state() == state, "it did not ask for this point"
        self.before = s
        return d.out[had:]

    def _state(self) -> list[str]:
        """All that a detector remembers but its rings. Without a crossing there is no shoulder, whatever it says."""
        d = self.detector
        left_out = {"raw", "fine", "likely", *(["_shoulder"] if d._crossing != d._crossing else [])}
        told = {**vars(d), **vars(d._landing)}
        return [f"{name} {len(v) if name == 'out' else v!r}" for name, v in told.items() if name not in left_out]

    def cycles(self, count: float, points: int = 60, high: float = 0.6, offset: float = 0.0) -> Points:
        """Triangles; the last point is the last below 1 g."""
        for k in range(round(count * points)):
            value, late = (1.0 + offset + high * triangle((k + d) / points) for d in (0.5, 1.5))
            self.show(value, value - 1.0 - offset, late)
        return self

    def first_onset(self, *values: float) -> tuple[float, int] | None:
        """The onset that these points bring, and after how many of them; for shoulders the coarse view stays low."""
        for n, s in enumerate(values, 1):
            for event in self.show(s, -0.01):
                if isinstance(event, Onset):
                    return event.time, n
        return None

    @property
    def crossing(self) -> float:
        """Where the last point below 1 g and one as far above would have it [s]."""
        return (self.detector.n - 1.5) * STEP

    def of(self, kind: type) -> list:
        return [e for e in self.detector.out if isinstance(e, kind)]


class Bounces:
    """Shows a finder bounces one after the other. A bounce is closed by the onset of the next, as the detector does."""

    def __init__(self) -> None:
        self.finder = FlightFinder()
        self.motion = self.finder.motion
        self.t, self.number = 20.0, 0
        self.open: CycleDone | None = None

    def of(self, kind: type[Event]) -> list:
        return [e for e in self.finder.out if isinstance(e, kind)]

    @property
    def flies(self) -> bool:
        return self.finder.in_flight

    def onset(self) -> None:
        """An onset at `t`, which closes the bounce before."""
        if self.open is not None:
            self.finder.receive(self.open)
            self.open = None
        self.finder.receive(Onset(self.t, self.t + 0.06, self.number))

    def bounce(
        self, odds: float = 6.0, period: float = PERIOD, peak: float = 2.0, size: float = 0.8, push: bool = True
    ) -> Bounces:
        self.onset()
        t, end = self.t, self.t + period
        if push:
            self.finder.receive(PushEnd(t + 0.4 * period, t + 0.5 * period, self.number))
        self.open = CycleDone(end, end + 0.06, self.number, t, t + 0.2 * period, t + 0.4 * period, t + 0.7 * period,
                              peak, 0.3, size, 0.2, True, odds)  # fmt: skip
        self.t, self.number = end, self.number + 1
        return self

    def bounces(self, *odds: float, **how: float) -> Bounces:
        for one in odds:
            self.bounce(one, **how)  # type: ignore[arg-type]
        return self

    def chop(self, start: float, end: float, rms: float, top: float = 1.2) -> Bounces:
        """Blocks of 0.1 s that end after `start`, up to `end`, of this roughness and highest magnitude [g]."""
        for k in range(round((end - start) / 0.1)):
            self.motion.block(start + 0.1 * (k + 1), 10 * rms * rms, top)
        return self

    def leap(self, end: float, long: float) -> Bounces:
        self.motion.leaps.append((end, long))
        self.motion.leap_end = end
        return self

    def steps(self, *times: float, period: float = 0.35, size: float = 0.5) -> Bounces:
        """Running steps that end at these times."""
        for t in times:
            self.finder.receive(Onset(t - period, t - period, -1))
            self.finder._run.clear()
            done = CycleDone(t, t, -1, t - period, t - 0.2, t - 0.15, t - 0.1, 1.8, 0.2, size, 0.05, True, -9.0)
            self.finder.receive(done)
        return self

    def wait(self, seconds: float) -> Bounces:
        """Grid points up to so long after the last onset; the finder sees those that it asked for, and after 1.6 s a
        last bounce that none has followed, as the detector closes it."""
        last = self.t - PERIOD
        self.finder.set_watch()
        for k in range(round(seconds / 0.01) + 1):
            self.finder.now = last + 0.01 * k
            if self.open is not None and self.finder.now > self.open.onset + SLOWEST_WAIT:
                self.finder.receive(replace(self.open, whole=False, known=self.finder.now))
                self.open = None
            if self.finder.now >= self.finder.watch:
                self.finder.look(self.finder.now, self.finder.now)
        return self
