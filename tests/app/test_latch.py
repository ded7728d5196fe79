"""The lock on the water: a steady finger opens it, whatever water does to a screen does not.

How water touches a capacitive screen (several points at once, jumps, streams that run down, films that rest) is common
practice of the trade, no source; each is acted out here many times over, for the size of several screens.
"""

from __future__ import annotations

import math
from random import Random

import pytest

from cadence_coach.app.latch import CALM_S, MAX_S, MIN_S, REST_S, Latch, arch

WIDE, HIGH = 360.0, 640.0
PATH = arch(36.0, 26.0, 288.0, 120.0)


def drawn(latch, seconds, at=0.0, path=PATH, each=0.02, touch="finger", shake=0.0, upto=1.0, seed=1):
    """A finger along the way, evenly in time. The time when it was lifted."""
    chance = Random(seed)
    steps = max(2, round(seconds / each))
    latch.down(touch, at, path[0])
    for n in range(1, steps + 1):
        share = upto * n / steps
        where = share * (len(path) - 1)
        a, b = path[math.floor(where)], path[math.ceil(where)]
        part = where - math.floor(where)
        x, y = (a[i] + (b[i] - a[i]) * part + chance.uniform(-shake, shake) for i in (0, 1))
        latch.move(touch, at + seconds * n / steps, (x, y))
    latch.up(touch, at + seconds)
    return at + seconds


@pytest.mark.parametrize("seconds", [1.55, 2.0, 3.0, 6.0, 11.0])
@pytest.mark.parametrize("shake", [0.0, 12.0])
@pytest.mark.parametrize("each", [0.008, 0.03])
def test_a_steady_finger_opens_it(seconds, shake, each):
    latch = Latch(PATH)
    drawn(latch, seconds, at=5.0, shake=shake, each=each)
    assert latch.open


def test_it_opens_at_any_size_of_screen():
    for width, height in ((200, 90), (320, 166), (340, 150), (900, 500)):
        latch = Latch(path := arch(10, 20, width, height))
        drawn(latch, 2.0, path=path)
        assert latch.open, (width, height)


@pytest.mark.parametrize("seconds", [0.05, 0.3, 0.8, 1.2])
def test_a_quick_swipe_does_not(seconds):
    latch = Latch(PATH)
    drawn(latch, seconds)
    assert not latch.open and latch.share == 0.0


@pytest.mark.parametrize("waited", [0.1, 0.5, 0.95])
@pytest.mark.parametrize("swipe", [0.04, 0.2, 0.5])
def test_creeping_on_and_then_a_swipe_does_not(waited, swipe):
    """At no part of the way may it be quick, however long the beginning took."""
    latch = Latch(PATH)
    latch.down("finger", 0.0, PATH[0])
    t = 0.0
    for n in range(1, 8):
        t += waited
        latch.move("finger", t, PATH[n])
    assert latch.share > 0.1
    for n in range(8, len(PATH)):
        t += swipe / 40
        latch.move("finger", t, PATH[n])
    assert not latch.open and latch.share == 0.0


@pytest.mark.parametrize("leaps", [2, 3, 6])
def test_leaps_along_the_way_do_not(leaps):
    latch = Latch(PATH)
    latch.down("finger", 0.0, PATH[0])
    for n in range(1, leaps + 1):
        latch.move("finger", 0.9 * n, PATH[n * (len(PATH) - 1) // leaps])
    assert not latch.open


def test_half_the_way_does_not():
    latch = Latch(PATH)
    drawn(latch, 2.0, upto=0.9)
    assert not latch.open and latch.share == 0.0


def test_the_way_back_does_not():
    latch = Latch(PATH)
    drawn(latch, 2.0, path=PATH[::-1])
    assert not latch.open


def test_a_second_touch_breaks_it_and_the_screen_must_rest_before_the_next_try():
    latch = Latch(PATH)
    latch.down("finger", 0.0, PATH[0])
    for n in range(1, 20):
        latch.move("finger", n * 0.05, PATH[n])
    assert latch.share > 0.3
    latch.down("drop", 1.0, (300.0, 600.0))
    assert latch.share == 0.0
    for n in range(20, 49):
        latch.move("finger", n * 0.05, PATH[n])
    latch.up("finger", 2.5)
    assert not latch.open
    drawn(latch, 2.0, at=3.0)  # the drop still lies there
    assert not latch.open
    latch.up("drop", 6.0)
    drawn(latch, 2.0, at=6.0 + CALM_S / 2)
    assert not latch.open
    drawn(latch, 2.0, at=10.0)
    assert latch.open


def test_resting_on_the_way_and_dawdling_break_it():
    latch = Latch(PATH)
    latch.down("finger", 0.0, PATH[0])
    latch.move("finger", 0.2, PATH[4])
    latch.pass_time(0.2 + REST_S / 2)
    assert latch.share > 0
    latch.pass_time(0.3 + REST_S)
    assert latch.share == 0.0
    latch = Latch(PATH)
    drawn(latch, MAX_S + 1.5)
    assert not latch.open


def test_turning_the_screen_breaks_a_try_and_lays_another_way():
    latch = Latch(PATH)
    latch.down("finger", 0.0, PATH[0])
    for n in range(1, 40):
        latch.move("finger", n * 0.05, PATH[n])
    latch.lay(arch(0, 0, 200, 90))
    for n in range(40, 49):
        latch.move("finger", n * 0.05, PATH[n])
    assert not latch.open


def spray(chance, latch):
    """Drops: short touches all over, some at once."""
    t, down = 0.0, []
    for n in range(400):
        t += chance.expovariate(20.0)
        if down and chance.random() < 0.5:
            latch.up(down.pop(chance.randrange(len(down))), t)
        elif down and chance.random() < 0.4:
            latch.move(chance.choice(down), t, (chance.uniform(0, WIDE), chance.uniform(0, HIGH)))
        else:
            latch.down(n, t, (chance.uniform(0, WIDE), chance.uniform(0, HIGH)))
            down.append(n)


def on_the_spot(chance, latch):
    """Drops that hit the beginning of the way, one at a time, and jump about near it or along it."""
    t = 0.0
    for n in range(60):
        t += chance.uniform(0.0, 1.5)
        latch.down(n, t, PATH[0])
        for _ in range(chance.randrange(40)):
            t += chance.expovariate(60.0)
            latch.move(n, t, chance.choice(PATH))
        latch.up(n, t)


def slides(latch, n, t, place, way):
    """A touch that goes on by way() each 20 ms until it leaves the screen; when it left."""
    x, y = place
    latch.down(n, t, place)
    for _ in range(2000):
        t += 0.02
        dx, dy = way()
        x, y = x + dx, y + dy
        if not (0 <= x <= WIDE and 0 <= y <= HIGH):
            break
        latch.move(n, t, (x, y))
    latch.up(n, t)
    return t


def stream(chance, latch):
    """Water that runs down the screen, in the direction of gravity as the phone is held, starting anywhere."""
    t = 0.0
    lean = chance.uniform(-0.5, 0.5)
    for n in range(40):
        step = chance.uniform(20, 400) * 0.02
        place = chance.choice([PATH[0], (chance.uniform(0, WIDE), HIGH)])
        t = slides(latch, n, t + 1.0, place, lambda: (lean * step + chance.gauss(0, 2), -step))  # noqa: B023


def wanders(chance, latch):
    """A film that starts on the right spot and creeps about: a random walk at the pace of a finger."""
    t = 0.0
    for n in range(20):
        t += 1.0
        x, y = PATH[0]
        latch.down(n, t, (x, y))
        for _ in range(300):
            t += 0.03
            x = min(WIDE, max(0.0, x + chance.gauss(0, 8)))
            y = min(HIGH, max(0.0, y + chance.gauss(0, 8)))
            latch.move(n, t, (x, y))
        latch.up(n, t)


def rubbing(chance, latch):
    """Cloth of a pouch: straight strokes from side to side, from the right spot, at any pace."""
    t = 0.0
    for n in range(40):
        aim, step = chance.uniform(-math.pi / 2, math.pi / 2), chance.uniform(50, 400) * 0.02
        t = slides(latch, n, t + 1.0, PATH[0], lambda: (math.cos(aim) * step, math.sin(aim) * step))  # noqa: B023


@pytest.mark.parametrize("act", [spray, on_the_spot, stream, wanders, rubbing])
def test_water_never_opens_it(act):
    for seed in range(40):
        latch = Latch(PATH)
        act(Random(seed), latch)
        latch.pass_time(1e6)
        assert not latch.open and latch.share == 0.0, (act.__name__, seed)
    assert MIN_S >= 1.5  # as asked for
