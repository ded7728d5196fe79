"""What lies between the tries in outings of `families`: on foot, in the water, in the boat."""

from __future__ import annotations

import numpy as np

from cadence_coach.core.units import G

from .drawn_motion import PI, Array
from .families_rider import Rider
from .families_track import FS, Track, bump, hump, samples, scaled, taper

LEVERS = {"chest": 0.38, "back": 0.36, "hip": 0.05, "arm": 0.22}
"""[m] of a phone worn there over the axis about which the trunk nods."""


class Day(Track):
    """One rider's pieces of motion, the phone worn at one of LEVERS."""

    def __init__(self, r: np.random.Generator, rider: Rider, worn: str) -> None:
        super().__init__(r)
        self.rider, self.lever = rider, LEVERS[worn]
        self.sea, self.sea_hz = r.uniform(0.01, 0.09), r.uniform(0.18, 0.5)
        r.random()  # the maker drew this and used it not: all that follows stays as it was made
        self.stroke = str(r.choice(["crawl", "breast", "pushboard"]))
        self.side = int(r.choice([-1, 1]))
        self.arm = worn == "arm"
        if self.arm:
            rider.nod = r.uniform(4, 17)

    # --- on foot ---

    def stand(self, sec: float) -> None:
        """Now and then bends down for board or leash, or looks round."""
        r, n = self.r, samples(sec)
        up = 1 + self.wander(n, 1.2, 0.006) + self.wander(n, 3, 0.004)
        lean, nod, fore = r.uniform(-4, 12), self.wander(n, 0.4, 2.0), self.wander(n, 1.0, 0.012)
        i = samples(r.uniform(1, 4))
        while i < n - samples(2.2) and r.random() < 0.75:
            m = samples(r.uniform(1.2, 2.2))
            here, half = slice(i, i + m), PI * np.arange(m) / m
            bend = np.sin(half) ** 2
            up[here] += r.uniform(0.06, 0.2) * np.sin(4 * half - PI) * bend
            nod[here] += r.uniform(10, 45) * bend
            fore[here] += self.wander(m, 3, 0.05) * bend
            i += m + samples(r.uniform(1, 9))
        side, bank, yaw = self.wander(n, 1, 0.012), r.uniform(-3, 3), self.wander(n, 0.3, 12)
        self.add(up, fore, side, lean=lean, bank=bank, nod=nod, yaw=yaw, speed=0.0)

    def _running(self, u: Array, uneven: float, strike: float, first: bool) -> tuple[Array, Array]:
        """Up and fore of one step, u: 0 to 1; a strike on the ground, then in the air."""
        duty = self.rider.duty * (1 + 0.04 * self.r.normal()) + (0.12 if first else 0)
        duty = np.clip(duty, 0.5, 0.85)
        down = u < duty
        push = np.sin(PI * np.clip(u / duty, 0, 1)) ** 1.05 * (1 + 0.15 * (uneven - 1))
        up = np.where(down, push, 0) + np.where(down, 0.35 * strike * np.exp(-(((u - 0.12 * duty) / 0.035) ** 2)), 0)
        return 0.04 + up * (0.96 / up.mean()), np.where(down, -0.28 * np.cos(PI * u / duty), 0) + 0.05

    def steps(
        self, rate: float, count: int, speeds: tuple[float, float], lean: float, size: float | None = None,
        *, wading: bool = False,
    ) -> None:  # fmt: skip
        """Steps at rate [Hz], each of mean 1 g: walking, of this size [g]; without it running. From one speed to the
        other [m/s]."""
        r = self.r
        periods = 1 / rate * (1 + r.normal(0, 0.025, count))
        uneven, strike = 1 + 0.06 * r.normal(), self.rider.strike * r.uniform(0.8, 1.2)
        steps = []
        for i, period in enumerate(periods):
            m = samples(period)
            u = (np.arange(m) + 0.5) / m
            own = (uneven if i % 2 else 2 - uneven) * (1 + 0.06 * r.normal())
            if size is None:
                up, fore = self._running(u, uneven, strike, i < 2)
            else:
                heel = 0.9 * strike * np.exp(-(((u - 0.1) / 0.03) ** 2)) * (0.3 if wading else 1)
                up = size * own * (-np.cos(2 * PI * (u - 0.05)) + 0.3 * np.sin(4 * PI * u) + heel)
                up = 1 + up - up.mean()
                fore = size * 0.5 * np.sin(2 * PI * u + 0.6) - 0.2 * size * np.exp(-(((u - 0.1) / 0.04) ** 2))
            side = (1 if i % 2 else -1) * (0.18 if size is None else 0.1) * np.sin(PI * u) * own
            steps.append((up, fore, side))
        up, fore, side = (np.concatenate(column) for column in zip(*steps, strict=True))
        n = len(up)
        pairs = np.cumsum(np.full(n, rate / 2 / FS))
        two = 2 * PI * pairs
        nod, swing = r.uniform(1, 3) * np.sin(4 * PI * pairs + 1), r.uniform(8, 25) * np.sin(two)
        rock, yaw = r.uniform(1, 4) * np.sin(two), r.uniform(8, 30) * np.cos(two) + self.wander(n, 0.2, 6)
        self.add(
            up, fore, side, lean=lean, bank=0.0, nod=nod + self.arm * swing, rock=rock, yaw=yaw,
            speed=np.linspace(*speeds, n),
        )  # fmt: skip

    def wade_ashore(self, rate: float, count: int, size: float, speed: float) -> None:
        self.steps(rate, count, (0.5, speed), 8.0, size, wading=True)

    def walk(self, sec: float) -> None:
        """Stretches, some waded or jogged, with pauses between."""
        r, left = self.r, sec
        while left > 2:
            stretch = min(left, r.uniform(8, 40))
            wading = bool(r.random() < 0.2)
            rate = self.rider.walk_hz * r.uniform(0.95, 1.04) * (0.72 if wading else 1)
            speed = r.uniform(1.0, 1.6) * (0.5 if wading else 1)
            if r.random() < 0.12:
                rate, count = r.uniform(2.4, 2.85), int(min(stretch, r.uniform(4, 12)) * 2.6)
                self.steps(rate, count, (2.3, 2.6), r.uniform(4, 14))
            else:
                size = r.uniform(0.16, 0.36)
                count = max(3, int(stretch * rate))
                self.steps(rate, count, (speed, speed), r.uniform(0, 10), size, wading=wading)
            left -= stretch
            if r.random() < 0.35:
                pause = r.uniform(2, 8)
                self.stand(pause)
                left -= pause

    def warm_up(self) -> None:
        """Slow knee bends."""
        r = self.r
        rate = r.uniform(0.45, 0.75)
        for _ in range(int(r.integers(4, 10))):
            n = samples(1 / rate * r.uniform(0.9, 1.1))
            u = np.arange(n) / n
            ends = np.minimum(1, 8 * np.minimum(u, 1 - u))
            bend = r.uniform(0.15, 0.33) * (np.cos(2 * PI * u) - 0.2 * np.cos(4 * PI * u) + 0.2)
            self.add(1 + bend * ends, nod=14 * np.sin(PI * u) ** 2, speed=0.0)
        self.stand(r.uniform(3, 8))

    def sit(self, sec: float) -> None:
        r, n = self.r, samples(sec)
        up, fore, side = 1 + self.wander(n, 0.8, 0.004), self.wander(n, 0.5, 0.006), self.wander(n, 0.5, 0.006)
        lean, nod, yaw = r.uniform(-15, 30), self.wander(n, 0.15, 4), self.wander(n, 0.2, 6)
        self.add(up, fore, side, lean=lean, nod=nod, yaw=yaw, speed=0.0)

    # --- in the water ---

    def seaway(self, n: int, part: float = 1.0) -> Array:
        return 1 + self.wander(n, self.sea_hz, self.sea * part) + self.wander(n, 3, 0.012 * part)

    def drift(self, sec: float) -> None:
        """Treads water, or lies over the board."""
        r, n = self.r, samples(sec)
        size = r.uniform(0.02, 0.1) if r.random() < 0.6 else 0
        rate = r.uniform(0.7, 1.3)
        strength = 1 + self.wander(n, 0.3, 0.35)
        turn = self.turning(n, rate, 0.3, 0.08)
        up = self.seaway(n) + size * strength * np.sin(turn)
        fore, side = self.wander(n, 0.8, 0.04) + size * 0.5 * np.cos(turn), self.wander(n, 0.8, 0.04)
        lean, bank = r.uniform(0, 55), r.uniform(-15, 15)
        nod, rock, yaw = self.wander(n, 0.5, 5), self.wander(n, 0.5, 6), self.wander(n, 0.3, 20)
        speed, sky = abs(self.wander(n, 0.1, 0.2)), r.random() < 0.25
        self.add(up, fore, side, lean=lean, bank=bank, nod=nod, rock=rock, yaw=yaw, speed=speed, sky=sky)

    def swim(self, sec: float) -> None:
        """By the rider's stroke; pushboard: kicking behind the board."""
        r, n = self.r, samples(sec)
        rates = {"crawl": r.uniform(0.38, 0.6), "breast": r.uniform(0.5, 0.8), "pushboard": r.uniform(0.9, 1.5)}
        p = self.turning(n, rates[self.stroke], 0.2, 0.06)
        e, b = 1 + self.wander(n, 0.2, 0.15), taper(n, 1)
        if self.stroke == "crawl":
            up, fore = 0.07 * np.cos(2 * p) * e, 0.12 * np.sin(2 * p) * e + 0.04 * np.sin(p)
            rock, nod, lean = 32 * np.sin(p), 5 * np.cos(2 * p), r.uniform(68, 84)
        elif self.stroke == "breast":
            up = 0.14 * np.cos(p) * e + 0.05 * np.cos(2 * p + 1)
            fore = 0.22 * np.maximum(0, np.sin(p)) ** 2 * e - 0.08
            rock, nod, lean = 4 * np.sin(0.5 * p), 14 * np.cos(p + 0.7), r.uniform(45, 70)
        else:
            up, fore = 0.04 * np.cos(p) * e, 0.06 * np.sin(p) * e
            rock, nod, lean = 5 * np.sin(0.5 * p), 3 * np.cos(p), r.uniform(35, 65)
        up, fore = self.seaway(n, 0.7) + up * b + self.wander(n, 6, 0.015), fore * b + self.wander(n, 5, 0.02)
        side, yaw = self.wander(n, 4, 0.04), self.wander(n, 0.2, 8)
        speed, sky = 0.5 + self.wander(n, 0.1, 0.1), r.random() < 0.12
        self.add(up, fore, side, lean=lean, bank=0.0, nod=nod * b, rock=rock * b, yaw=yaw, speed=speed, sky=sky)

    def paddle(self, sec: float) -> None:
        """On the board, lying or kneeling."""
        r, n = self.r, samples(sec)
        p, b = self.turning(n, r.uniform(0.65, 1.1), 0.25, 0.06), taper(n, 0.8)
        prone = r.random() < 0.6
        up = self.seaway(n, 0.8) + b * (r.uniform(0.03, 0.12) * np.sin(p) + 0.03 * np.sin(2 * p + 1))
        fore = b * r.uniform(0.06, 0.2) * np.cos(p + 0.5) * (1 + 0.3 * np.sin(0.5 * p))
        side = b * 0.05 * np.sin(0.5 * p) + self.wander(n, 2, 0.02)
        lean = r.uniform(60, 82) if prone else r.uniform(20, 45)
        rock, yaw = b * r.uniform(3, 10) * np.sin(0.5 * p), self.wander(n, 0.2, 8)
        speed, sky = 1.1 + self.wander(n, 0.1, 0.2), r.random() < 0.5
        nod = b * 4 * np.sin(p + 1)
        self.add(up, fore, side, lean=lean, bank=0.0, nod=nod, rock=rock, yaw=yaw, speed=speed, sky=sky)

    def climb(self) -> None:
        """Rungs of a ladder, or heaves onto dock or board."""
        r = self.r
        count = int(r.integers(2, 6))
        for lean in np.linspace(60, 10, count) + r.normal(0, 12, count):
            m = samples(r.uniform(0.5, 1.1))
            size, u = r.uniform(0.12, 0.5), (np.arange(m) + 0.5) / m
            up = 1 + size * np.sin(PI * u) ** 2 * np.sin(2 * PI * u) * 1.5 + self.wander(m, 4, 0.03)
            fore, side = self.wander(m, 2, 0.1), self.wander(m, 2, 0.1)
            self.add(up, fore, side, lean=lean, bank=r.uniform(-20, 20), speed=0.1, sky=0.0)
            m = samples(r.uniform(0.3, 1.6))
            self.add(1 + self.wander(m, 2, 0.02), self.wander(m, 2, 0.03), lean=lean, speed=0.05, sky=0.0)
        n = samples(1.2)
        self.add(1 + self.wander(n, 3, 0.03) * taper(n), lean=8.0, bank=0.0, speed=0.0)

    def boat(self, sec: float) -> None:
        """Sits in the boat between tows: its motor, and chop that slams at no fixed rhythm."""
        r, n = self.r, samples(sec)
        motor = 2 * PI * r.uniform(18, 38) * (np.arange(n) / FS)
        up = 1 + 0.025 * np.sin(motor + self.wander(n, 1, 1.0)) + self.wander(n, 1, 0.05)
        i, b = samples(0.5), taper(n, 1.5)
        while i < n - samples(0.9):
            size, m = r.uniform(0.05, 0.4), samples(r.uniform(0.14, 0.3))
            up[i - m : i] -= size * 0.5 * hump(m)
            up[i : i + m // 2] += size * hump(m // 2, 1, 0.35)
            i += samples(r.uniform(0.5, 2.2))
        fore, side, lean = self.wander(n, 0.5, 0.06) * b, self.wander(n, 1, 0.05) * b, r.uniform(0, 20)
        nod, rock, yaw = self.wander(n, 0.6, 2.5), self.wander(n, 0.6, 3), self.wander(n, 0.1, 10)
        self.add(1 + (up - 1) * b, fore, side, lean=lean, nod=nod, rock=rock, yaw=yaw, speed=b * r.uniform(4, 8))

    def jump_in(self) -> None:
        """Off the dock into the water without a board."""
        r = self.r
        v = r.uniform(0.3, 1.6)
        self.add(1 + np.concatenate([-bump(0.25, 0.06), bump(r.uniform(0.2, 0.3), v / G + 0.06)]), speed=0.8)
        air = r.uniform(0.3, 0.5)
        m = samples(air)
        self.add(np.full(m, 0.04), 0.03, speed=1.2, nod=np.linspace(0, 10, m))
        self.enter(-(v - G * air))
        self.splash(r.uniform(1.5, 3), 0.15)

    def enter(self, down: float) -> None:
        """The water stops a fall [m/s]."""
        r = self.r
        stop = scaled(hump(samples(r.uniform(0.26, 0.42)), 1.1, r.uniform(0.26, 0.42)), down / G)
        self.knocks.append(self.length)
        fore, side = -0.35 * r.uniform(0.3, 1) * stop, r.normal(0, 0.15) * stop
        self.add(1 + stop, fore, side, speed=0.6, sky=0.0)

    def splash(self, sec: float, size: float) -> None:
        """The first seconds in the water, thrown about by so many g."""
        r, n = self.r, samples(sec)
        t, rate = np.arange(n) / FS, r.uniform(0.7, 1.1)
        e = np.exp(-np.arange(n) / FS / (0.35 * sec))
        up = self.seaway(n)
        up = up + e * (self.wander(n, 6, size * 0.5) + r.uniform(0.1, 0.25) * np.sin(2 * PI * rate * t))
        fore, side = (e * self.wander(n, 6, size) + self.wander(n, 1, 0.04) for _ in range(2))
        lean, bank = r.uniform(0, 50), r.uniform(-10, 10)
        nod, rock, yaw = (e * self.wander(n, hz, most) for hz, most in ((1.5, 18), (1.5, 18), (1, 90)))
        self.add(up, fore, side, lean=lean, bank=bank, nod=nod, rock=rock, yaw=yaw, speed=0.3, sky=0.0)

    def back(self, place: str) -> None:
        """From the water to the next start. place: dock, beach or tow."""
        r = self.r
        self.drift(r.uniform(2, 14))
        x = r.random()
        if place == "tow":
            self._back_to_the_rope(x < 0.55)
        elif place == "beach":
            if x < 0.6:
                self.swim(r.uniform(5, 25))
            else:
                self.paddle(r.uniform(8, 30))
            self.wade_ashore(r.uniform(1.1, 1.45), int(r.integers(5, 18)), 0.18, 0.7)
            if r.random() < 0.7:
                self.walk(r.uniform(8, 60))
        else:
            if x < 0.3:
                self.climb()
                self.paddle(r.uniform(10, 40))
            else:
                self.swim(r.uniform(10, 45))
            self.climb()
            if r.random() < 0.5:
                self.walk(r.uniform(6, 45))
        if r.random() < 0.35:
            self.sit(r.uniform(8, 40))

    def _back_to_the_rope(self, waits: bool) -> None:
        """Waits for it in the water, or is taken along in the boat."""
        r = self.r
        if waits:
            self.drift(r.uniform(8, 35))
            return
        self.swim(r.uniform(5, 20))
        self.climb()
        self.boat(r.uniform(15, 50))
        if r.random() < 0.5:
            self.jump_in()
        else:
            self.climb()
