"""The screen on the water as it is drawn and touched: where the lens floats, from the pixels; the lock, by a finger."""

from __future__ import annotations

import time

import matplotlib.image
import numpy as np
import pytest

from cadence_coach.app.latch import CALM_S
from cadence_coach.app.theme import NIGHT
from tests.app.driver import Driver
from tests.app.pages import BAND, FLIGHT, GOING, PAGES, water

SIZES = ((320, 640), (412, 915), (640, 360), (1280, 800))


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    with Driver(tmp_path_factory.mktemp("home")) as app:
        yield app


def drawn(app, path, cadence, size):
    """Rows of the band, and rows and columns of the lens' colour around it (row 0 at the top)."""
    water(**{**FLIGHT, "cadence_hz": cadence, "speed_m_s": 4.5})(app)
    facts = app.look(width=size[0], height=size[1], path=str(path), lang="en", theme="sun", scale=1.0)["facts"]
    pixels = matplotlib.image.imread(path)[..., :3]
    band = np.abs(pixels - NIGHT.band[:3]).max(axis=2) < 0.02
    rows = np.nonzero(band.sum(axis=1) > 20)[0]
    ink = np.abs(pixels - NIGHT.ink[:3]).max(axis=2) < 0.02
    for f in facts:  # letters are of the same colour; the figure in the lens is not
        if f["text"] and f["text"] != f"{60 * cadence:.0f}":
            top = round(size[1] - f["y"] - f["height"])
            ink[max(0, top) : round(size[1] - f["y"]), round(f["x"]) : round(f["x"] + f["width"])] = False
    across = np.nonzero(band.sum(axis=0) > 5)[0]
    ink[:, : across[0]] = False  # what stands beside the band when the phone lies
    ink[: rows[0] - round(0.25 * size[1])] = False  # the timer above
    return rows, ink


@pytest.mark.parametrize("size", SIZES)
def test_the_lens_floats_where_the_cadence_is(app, tmp_path, size):
    path = tmp_path / "a.png"
    middles = []
    for cadence in (1.0, BAND["lo"] + 0.05, 1.56, BAND["hi"] - 0.05, 2.6):
        rows, ink = drawn(app, path, cadence, size)
        at = np.nonzero(ink)[0]
        middles.append(float(np.median(at)))
        inside = BAND["lo"] <= cadence <= BAND["hi"]
        assert (rows[0] < middles[-1] < rows[-1]) == inside, cadence
        top, low = np.percentile(at, [2, 98])
        fullness = ink.sum() / ((low - top + 1) * (np.ptp(np.nonzero(ink)[1]) + 1))
        assert (fullness > 0.4) == inside, (cadence, fullness)  # full inside, an outline outside: shape, not colour
    assert middles == sorted(middles, reverse=True)  # quicker is higher


@pytest.mark.parametrize("size", SIZES)
def test_the_arch_opens_it_at_every_size_and_a_tap_locks_it(app, size):
    water(**GOING)(app)
    app.size(*size)
    assert "Lock again" not in app.texts()
    points = app.arch()["points"]
    app.slide(points[::4], 0.3)  # too quick
    assert "Lock again" not in app.texts()
    app.slide(points[::-1], 2.2)  # the other way round
    app.slide(points[:30], 2.2)  # not to the end
    assert "Lock again" not in app.texts()
    time.sleep(2 * CALM_S)
    app.unlock()
    assert "Lock again" in app.texts()
    app.tap("water.lock")
    assert "Lock again" not in app.texts()


@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize("size", SIZES)
def test_the_end_is_in_sight_as_soon_as_it_is_unlocked(app, size, lang):
    PAGES["water:unlocked"](app)
    facts = app.look(width=size[0], height=size[1], lang=lang, theme="sun", scale=1.0)["facts"]
    (end,) = (f for f in facts if f["text"] in ("Hold to end the outing", "Halten, um zu beenden"))
    assert end["y"] >= 0.0 and end["y"] + end["height"] <= size[1]


def test_what_is_locked_lets_no_touch_through(app):
    """Not one of the three kinds; once unlocked the same touches go through, so that the sheet does hear."""
    water(**GOING)(app)
    app.size(360, 640)
    app.probe()
    assert app.storm(200, 3.0, 5)["touches"] == 600
    assert app.heard()["heard"] == {"down": 0, "move": 0, "up": 0}

    def let_through() -> bool:
        """A machine that is busy elsewhere may draw too jerkily for one try."""
        time.sleep(2 * CALM_S)
        app.unlock()
        app.slide([[20, 20], [40, 30], [60, 40]], 0.3)
        return all(app.heard()["heard"].values())

    app.until(let_through)


def test_the_back_key_does_nothing_while_it_is_locked(app):
    water(**GOING)(app)
    app.size(360, 640)
    for code in (27, 1001):
        assert app.key(code)["taken"] and app.page == "water"
    app.unlock()
    assert app.key(1001)["taken"] and app.page == "home"


@pytest.mark.parametrize("page", ["water:gone", "water:failed", "water:ended"])
def test_what_is_over_needs_no_lock(app, page):
    PAGES[page](app)
    app.tap("water.home")
    assert app.page == "home"
