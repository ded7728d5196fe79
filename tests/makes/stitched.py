"""Outings to learn from whose pumps are stitched of other sports, with much care for what lies between flights.

A rider jumps, climbs stairs, skates or hops on the foil (`stitched_pump`); starts and ends are leaps, landings, tows
and falls that keep the body's momentum (`stitched_try`); between tries one swims, climbs out, walks, hops oneself warm
(`stitched_foot`, `stitched_water`). The phone sits on chest, back, hip or arm (`stitched_phone`). Pumping at 1.05-1.95
Hz, period CV 2-7 %, push share 0.18-0.55, peak 1.4-2.6 g; no shoulder comes within 0.02 g of 1 g, so that no onset has
two readings. All values are our own choice. The maker had seen no other make.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter1d

from cadence_coach.sim import SimulatedOuting

from .drawn_motion import PI, Array
from .stitched_foot import bend, empty_ears, jog, sit, stairs, stand, walk, warm_up
from .stitched_phone import recorded
from .stitched_piece import DT, GRAVITY, Generator, Piece, Pieces
from .stitched_pump import Rider, draw_rider
from .stitched_try import Try, attempt
from .stitched_water import back_to_start, climb_out, idle, paddle, swim, tread

KINDS = ("dock", "beach", "tow", "rock", "novice", "mixed", "long", "ashore", "winter", "dock")
"""In turn. rock: stepped off; novice: most tries fail, flights of 4-11 pumps; long: 50-110; ashore: no flight at all;
winter: much hopping against the cold."""
STARTS = {
    "dock": ("run_up",), "beach": ("run_up",), "tow": ("rope",), "rock": ("step",), "novice": ("run_up", "step"),
    "long": ("run_up", "step", "rope"), "winter": ("run_up", "step"),
}  # fmt: skip
ANY_START = ("run_up", "rope", "step")
LONGEST = 560.0
"""[s] after which nobody starts again."""


def kind_of(number: int) -> str:
    return KINDS[number % len(KINDS)]


@dataclass
class Story:
    """What happens, piece by piece; rng goes on to the phone."""

    rng: Generator
    rider: Rider
    kind: str
    pieces: Pieces = field(default_factory=list)
    tries: list[Try] = field(default_factory=list)
    length: int = 0

    @property
    def now(self) -> float:
        """[s]"""
        return self.length * DT

    def add(self, pieces: Pieces) -> None:
        self.pieces += pieces
        self.length += sum(len(piece.n) for piece in pieces)

    def attempt(self, started_by: str, count: int, ended_by: str, *, novice: bool) -> None:
        made = attempt(self.rng, self.rider, started_by, count, ended_by, novice=novice)
        made.begins = self.length
        self.tries.append(made)
        self.add(made.pieces)

    def motion(self) -> Piece:
        """All of it, as smooth as a trunk is."""
        whole = joined(self.pieces)
        whole.n = np.maximum(gaussian_filter1d(whole.n, self.rider.soft), 0.0)
        whole.fore, whole.side = gaussian_filter1d(whole.fore, 5), gaussian_filter1d(whole.side, 5)
        return whole


def story_of(seed: int, number: int) -> Story:
    r = np.random.default_rng([seed, number, 7717])
    kind = kind_of(number)
    story = Story(r, draw_rider(r), kind)
    total = r.uniform(245, 590)
    towed_from = str(r.choice(["dock", "beach"]))
    place = {"beach": "beach", "tow": towed_from}.get(kind, "dock")
    story.add(stand(r, r.uniform(3, 9)))
    for _ in range(int(r.integers(1, 3))):
        x = r.random()
        if x < 0.75:
            story.add(walk(r, r.uniform(6, 28), carry=x < 0.5))
        else:
            story.add(warm_up(r) if x < 0.9 else bend(r))
        story.add(stand(r, r.uniform(1, 6)))
    if kind == "ashore":
        _ashore(story, total, place)
        return story
    _tries(story, total, place)
    story.add(stand(r, r.uniform(2, 6)))
    if r.random() < 0.5:
        story.add(walk(r, r.uniform(6, 20), carry=r.random() < 0.7))
        story.add(stand(r, 2))
    return story


def _ashore(story: Story, total: float, place: str) -> None:
    """All that is no flight, in any order, for about total [s]."""
    r = story.rng

    def failed_try() -> Pieces:
        start, count = str(r.choice(STARTS.get(story.kind, ANY_START))), int(r.choice([0, 0, 1, 2]))
        story.attempt(start, count, str(r.choice(["fall", "touch_down"])), novice=True)
        return back_to_start(r, place, 30, short=True)

    todo: list[Callable[[], Pieces]] = [
        lambda: walk(r, r.uniform(8, 40)), lambda: walk(r, r.uniform(8, 30), carry=True),
        lambda: jog(r, r.uniform(5, 25)), lambda: warm_up(r), lambda: empty_ears(r),
        lambda: stairs(r, int(r.integers(4, 16))), lambda: sit(r, r.uniform(5, 30)),
        lambda: paddle(r, r.uniform(15, 50)), lambda: swim(r, r.uniform(15, 50)),
        lambda: climb_out(r, r.choice(["ladder", "mantle", "beach"])), lambda: back_to_start(r, place, 60), failed_try,
    ]  # fmt: skip
    while story.now < total:
        story.add(todo[r.integers(len(todo))]())
        story.add(stand(r, r.uniform(1, 6)))


def _tries(story: Story, total: float, place: str) -> None:
    """Tries and the ways back, for about total [s]; at least one flies."""
    r, kind = story.rng, story.kind
    fails = {"novice": 0.6, "long": 0.12}.get(kind, 0.28)
    flown = False
    while story.now < total or not flown:
        failed = r.random() < fails and (flown or story.now <= total * 0.6)
        start = str(r.choice(STARTS.get(kind, ANY_START)))
        if failed:
            count = int(r.choice([0, 1, 2], p=[0.45, 0.3, 0.25]))
            end = r.choice(["fall", "touch_down"], p=[0.6, 0.4])
        else:
            few, many, usual = r.integers(4, 12), r.integers(50, 111), min(110, 4 + r.gamma(1.6, 16))
            count = int({"novice": few, "long": many}.get(kind, usual))
            end = r.choice(["fall", "touch_down", "coast_out"], p=[0.5, 0.27, 0.23])
            count = min(count, max(5, int((595 - story.now) * story.rider.cadence * 0.85)))
            flown = True
        story.attempt(start, count, str(end), novice=kind == "novice")
        if story.now > LONGEST:
            break
        story.add(back_to_start(r, place, count * 3.0, short=r.random() < 0.4))
        if start == "rope" and place != "dock" and r.random() < 0.6:
            story.add(tread(r, r.uniform(2, 12)))  # stays in the water for the next pull
        else:
            story.add(idle(r, 0.75 if kind == "winter" else 0.3))


FADES = {"fore": 0.18, "side": 0.18, "pitch": 0.55, "roll": 0.55, "yaw": 0.55, "arm": 0.55, "speed": 0.8}
"""[s] a third of the time in which a step from one piece to the next goes away."""


def joined(pieces: Pieces) -> Piece:
    """One long piece, in which all but n and wet goes over from piece to piece without a step."""
    columns: dict[str, list[Array]] = {name: [] for name in FADES}
    knocks: list[tuple[int, float]] = []
    begins = 0
    for piece in pieces:
        m = len(piece.n)
        for name, fade in FADES.items():
            x = np.broadcast_to(getattr(piece, name), m).astype(float)
            if begins:
                step = columns[name][-1][-1] - x[0]
                if name in ("arm", "yaw"):  # whole turns stay
                    part = (step + PI) % (2 * PI) - PI
                    x += step - part
                    step = part
                u = np.clip(np.arange(m) * DT / (3 * fade), 0, 1)
                x += step * (1 - u) ** 3 * (1 + 3 * u + 6 * u * u)
            columns[name].append(x)
        knocks += [(begins + i, size) for i, size in piece.knocks]
        begins += m
    wet = np.concatenate([np.broadcast_to(piece.wet, len(piece.n)) for piece in pieces])
    n = np.concatenate([piece.n for piece in pieces])
    return Piece(n, **{name: np.concatenate(parts) for name, parts in columns.items()}, wet=wet, knocks=knocks)


# --- truth ---


def _crossing(n: Array, near: int, rising: bool) -> float:
    """When [s] n goes through 1 g, within 0.06 s of where it was meant to."""
    first = max(0, near - 31)
    over = n[first : near + 30] >= 1
    k = first + np.flatnonzero((over[1:] != over[:-1]) & (over[1:] == rising))
    k = k[np.argmin(np.abs(k + 1 - near))]
    return float((k + (1 - n[k]) / (n[k + 1] - n[k])) * DT)


def _travel(n: Array, first: int, last: int) -> float:
    """[m] from the lowest to the highest of the body in a cycle, which ends as high as it began."""
    z = np.cumsum(np.cumsum((n[first:last] - 1) * GRAVITY * DT)) * DT
    return float(np.ptp(z - np.linspace(0, z[-1], len(z))))


def truth_of(n: Array, tries: list[Try]) -> dict[str, Any]:
    """Of the vertical [g] before the phone: pumps and flights as truth.json has them, and each try's `onsets_s`, so
    those of bounces that were no flight, too."""
    truth: dict[str, Any] = {"pumps": [], "flights": [], "attempts": []}
    for tried in tries:
        begins = tried.pumps_from
        meant, ends_meant = (tried.train.onsets, tried.train.push_ends) if tried.train else ([], [])
        onsets = [_crossing(n, begins + i, True) for i in meant]
        ends = [_crossing(n, begins + i, False) for i in ends_meant]
        truth["attempts"].append({"onsets_s": [round(onset, 5) for onset in onsets]})
        if not tried.flies:
            continue
        travel = 0.0
        for k, (onset, end) in enumerate(zip(onsets, ends, strict=True)):
            first = int(np.ceil(onset / DT))
            push = n[first : int(end / DT) + 1]
            top = int(np.argmax(push))
            if k + 1 < len(onsets):  # the last one's is the last but one's
                travel = round(_travel(n, first, min(int(onsets[k + 1] / DT), len(n) - 1)), 4)
            truth["pumps"].append({
                "onset_s": round(onset, 5), "peak_s": round((first + top) * DT, 5), "push_end_s": round(end, 5),
                "peak_g": round(float(push[top]), 4), "travel_m": travel,
            })  # fmt: skip
        period = float(np.median(np.diff(onsets)[-5:]))
        truth["flights"].append({
            "start_s": round(onsets[0], 5), "end_s": round(onsets[-1] + period, 5), "pumps": len(onsets),
            "started_by": tried.started_by, "ended_by": tried.ended_by,
        })  # fmt: skip
    return truth


def stitched_outing(seed: int, number: int) -> SimulatedOuting:
    """The outing as a phone records it, of the kind that the number has. The same arguments give the same outing."""
    story = story_of(seed, number)
    motion = story.motion()
    truth = truth_of(motion.n, story.tries)
    pumping = np.zeros(len(motion.n))
    for tried in story.tries:
        pumping[tried.pumps_from : tried.pumps_until] = 1
    own = np.random.default_rng([seed, number, 1])
    buzz = gaussian_filter1d(own.normal(0, 1, len(pumping)), 8)  # of hull and mast, felt by the phone alone
    buzz *= story.rider.buzz / buzz.std()
    motion.n = motion.n + buzz * gaussian_filter1d(pumping, 50)
    blinding = [] if story.kind == "ashore" else story.tries  # there a try costs no fix but what the water takes
    accel, gyro, fixes = recorded(story.rng, motion, blinding, pumping)
    return SimulatedOuting(accel, gyro, fixes, truth, {})
