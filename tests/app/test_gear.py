"""Me and my gear on the screen: the band is that of what stands in the fields, and none while they make no profile."""

from __future__ import annotations

import time

from cadence_coach.app import state
from cadence_coach.app.words import Words
from cadence_coach.foil.profile import load_profile
from tests.app.driver import Driver


def shown(app: Driver) -> str:
    """What stands where the band is told: band, wait or lacks."""
    texts, words = app.texts(), Words("en")
    if any(" pumps a minute at " in text for text in texts):
        return "band"
    return next(key for key in ("wait", "lacks") if words(f"gear.band_{key}") in texts)


def test_of_a_value_that_is_refused_no_piece_is_kept(tmp_path):
    """Each key makes a number: 128 stands there on the way to 1280."""
    with Driver(tmp_path / "home", sound="silent") as app:
        path = app.home / state.PROFILE
        app.tap("home.gear")
        for name, text in (("rider.mass_kg", "72"), ("foil.wing_area_m2", "1650"), ("foil.span_m", "1280")):
            app.write(f"gear.{name}", text)
        assert not path.exists()
        app.write("gear.foil.span_m", "128")
        app.write("gear.rider.mass_kg", "750")
        app.tap("gear.kind.sea")  # the rest is kept all the same
        table = load_profile(path).table
        assert (table["rider"]["mass_kg"], table["foil"]["span_m"], table["water"]["kind"]) == (72.0, 1.28, "sea")
        app.write("gear.rider.mass_kg", "75")
        assert load_profile(path).table["rider"]["mass_kg"] == 75.0


def test_no_band_stands_under_a_wrong_value(tmp_path):
    """Nor does one come back that was being worked out when the value became wrong; a right value brings it again."""
    with Driver(tmp_path / "home", sound="silent") as app:
        app.tap("home.gear")
        for name, text in (("rider.mass_kg", "72"), ("foil.wing_area_m2", "1650"), ("foil.span_m", "128")):
            app.write(f"gear.{name}", text)
        app.until(lambda: shown(app) == "band")
        for area, moment_s in ((1660, 0.45), (1670, 0.5), (1680, 0.6), (1690, 0.7)):
            app.write("gear.foil.wing_area_m2", str(area))
            time.sleep(moment_s)
            app.write("gear.foil.wing_area_m2", f"{area}0")
            app.until(lambda: shown(app) == "lacks")
            time.sleep(1.5)
            assert shown(app) == "lacks", moment_s
        app.write("gear.foil.wing_area_m2", "1700")
        app.until(lambda: shown(app) == "band")
