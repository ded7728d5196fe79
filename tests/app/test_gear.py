"""Me and my gear on the screen: the band is that of what stands in the fields, and none while they make no profile."""

from __future__ import annotations

import time

from cadence_coach.app.words import Words
from tests.app.driver import Driver


def shown(app: Driver) -> str:
    """What stands where the band is told: band, wait or lacks."""
    texts, words = app.texts(), Words("en")
    if any(" pumps a minute at " in text for text in texts):
        return "band"
    return next(key for key in ("wait", "lacks") if words(f"gear.band_{key}") in texts)


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
