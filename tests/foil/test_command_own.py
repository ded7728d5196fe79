"""The command `band`: whose endurance and whose cadence it goes by."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import attrs
import pytest

from cadence_coach.commands.band_picture import _curves
from cadence_coach.core.targets import replace
from cadence_coach.foil.answer import assumed_effort
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import demo_profile
from tests.foil.asking import FLIGHTS, OTHER, asked, found


def test_two_foils_of_one_rider_and_two_riders(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """What was given of the first goes along to the second foil only where it is the same rider, by name and mass."""
    for name, rider, mass, cp, words in (
        ("one", "Mika Sand (invented)", 72, 300, "the same rider's own endurance"),
        ("heavier", "Mika Sand (invented)", 95, None, "each rider's own endurance"),
        ("two", "Ada Wave (invented)", 72, None, "each rider's own endurance"),
    ):
        other = tmp_path / f"{name}.toml"
        other.write_text(OTHER.replace("Ada Wave (invented)", rider).replace("72", str(mass)))
        asking = ("--against", str(other), "--cp", "300", "--work", "20")
        got = found(capsys, *asking, "--speeds", "5")
        assert got["effort"]["cp_w"] == 300
        assert got["against"]["effort"]["cp_w"] == (cp or pytest.approx(assumed_effort(mass).cp)), name
        assert got["against"]["effort"]["source"] == (got["effort"]["source"] if cp else "assumed")
        out = " ".join(asked(capsys, *asking, "--picture", str(tmp_path / f"{name}.svg")).split())
        assert words in out and out.count("What lasts how long") == (1 if cp else 2)
        assert (f"{rider}, assumed" in (tmp_path / f"{name}.svg").read_text()) == (cp is None)


def test_own_flights_lean_the_band_and_carry_a_model(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "flights.csv"
    path.write_text(FLIGHTS)
    got, plain = found(capsys, "--flights", str(path), "--speeds", "4.5"), found(capsys, "--speeds", "4.5")
    (own,) = got["own"]
    assert own["flights"] == 5 and own["best"] == 2
    assert got["q"] == pytest.approx(
        own["cadence_hz"] / band_table(demo_profile().setup).model_at(own["speed_m_s"]).target
    )
    assert got["rows"][0]["coach_target_hz"] < 0.97 * plain["rows"][0]["coach_target_hz"]
    assert plain["rows"][0]["coach_target_hz"] == pytest.approx(plain["rows"][0]["target_hz"], abs=0.01)
    assert got["cruise_speed_m_s"] == pytest.approx(4.4) and got["least_effort_speed_m_s"] > 4.5
    assert got["effort"]["source"] == "own flights" and plain["effort"]["source"] == "assumed"
    assert got["effort"]["fit"]["trials"] >= 3 and got["effort"]["fit"]["cp_interval"][0] < got["effort"]["cp_w"]
    out = asked(capsys, "--flights", str(path))
    assert "Your best flights so far" in out and "band and target lean half-way to it" in out


def test_the_band_that_is_shown_is_the_coachs(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """In table and picture, as in the app: never narrower than +-10 %, and leaned where own flights are given."""
    path = tmp_path / "flights.csv"
    path.write_text(FLIGHTS)
    model = band_table(demo_profile().setup)
    for asking in ([], ["--flights", str(path)]):
        got = found(capsys, *asking, "--speeds", "3.2,4.5")
        table = replace(model, q=got["q"])
        narrow, wide = (table.at(r["speed_m_s"]) for r in got["rows"])
        assert narrow.hi == pytest.approx(1.1 * narrow.target) or narrow.lo == pytest.approx(0.9 * narrow.target)
        out = asked(capsys, *asking, "--speeds", "3.2,4.5")
        for band in (narrow, wide):
            said = [f"{60 * band.lo:.0f}-{60 * band.hi:.0f}", f"{60 * band.target:.0f}"]
            lines = [line.split() for line in out.splitlines()]
            assert next(line[1:3] for line in lines if line[:1] == [f"{band.speed:g}"]) == said
            assert out.count(said[0]) == 1
        speed, lo, target, hi, _, _ = _curves(got, demo_profile()) or ()
        bands = [table.at(v) for v in speed]
        for curve, key in ((lo, "lo"), (target, "target"), (hi, "hi")):
            assert list(curve) == [60 * getattr(band, key) for band in bands]


def test_flights_that_carry_nothing_say_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "flights.csv"
    path.write_text("duration_s,cadence_hz\n60,1.4\n")
    got = found(capsys, "--flights", str(path), "--speeds", "4.5")
    none = "of 1 flight none has a speed the model can use and lasts 20 s or more"
    assert got["effort"]["not_fitted"] == none and got["own"] == [] and got["effort"]["source"] == "assumed"
    assert none in " ".join(asked(capsys, "--flights", str(path)).split())
    path.write_text("duration_s,cadence_hz\n" + "60,1.4\n" * 40)
    assert "of 40 flights none has" in found(capsys, "--flights", str(path))["effort"]["not_fitted"]
    path.write_text("duration_s,cadence_hz\n")
    assert "too few flights, 0" in found(capsys, "--flights", str(path))["effort"]["not_fitted"]


@pytest.mark.parametrize(
    "asking, source, words",
    [
        ([], "assumed", "an assumed fit rider"),
        (["--cp", "220", "--work", "15"], "given", "as given"),
        (["--flights", "own.csv"], "own flights", "from your own flights"),
        (["--flights", "own.csv", "--cp", "220", "--work", "15"], "given", "as given"),
    ],
)
def test_whose_endurance_it_is(
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    asking: list[str],
    source: str,
    words: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("own.csv").write_text(FLIGHTS)
    assert found(capsys, *asking)["effort"]["source"] == source
    out = " ".join(asked(capsys, *asking, "--picture", "band.svg").split())
    assert f"What lasts how long ({words}: " in out
    assert f"How long which leg power lasts ({words})" in Path("band.svg").read_text()


def test_the_band_leans_as_the_live_coach_does(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Who usually flies faster than the model allows keeps the model's cruise speed, and what it leans to."""
    from cadence_coach.review.so_far import leaned, so_far
    from tests.review.test_season import flight, row

    path = tmp_path / "flights.csv"
    path.write_text("speed_m_s,cadence_hz,duration_s\n" + "7.5,1.5,40\n" * 6 + ",1.6,40\n" * 6)
    got = found(capsys, "--flights", str(path), "--speeds", "4.5")
    model = band_table(demo_profile().setup)
    figures = [
        attrs.evolve(flight(40, None), cadence=f, speed=v) for v, f in ((7.5, 1.5), (None, 1.6)) for _ in range(6)
    ]
    live = leaned(model, so_far([row(1, flights=figures)], "Lea", "Tern 150", model))
    assert got["cruise_speed_m_s"] == live.cruise_speed == model.cruise_speed
    assert got["q"] == live.q == pytest.approx(1.6 / model.model_at(None).target)


def test_own_power_and_what_lasts_how_long(capsys: pytest.CaptureFixture[str]) -> None:
    """CP 220 W, W' 15 kJ: 245 W for 600 s, by hand; the range is +-30 %."""
    got = found(capsys, "--cp", "220", "--work", "15", "--speeds", "4.5")
    ten = next(r for r in got["holds"] if r["duration_s"] == 600)
    assert ten["power_w"] == pytest.approx(245) and ten["power_hi_w"] == pytest.approx(318.5)
    assert ten["speed_lo_m_s"] <= got["least_drag_speed_m_s"] <= ten["speed_hi_m_s"]
    whole, quarter = got["less_drag"][0], got["less_drag"][-1]
    assert quarter["less_drag"] == 0.25 and quarter["power_w"] == pytest.approx(0.75 * whole["power_w"])
    assert whole["lasts_s"] == pytest.approx(15_000 / (whole["power_w"] - 220))


def test_how_long_is_a_range_wherever_it_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """The power at cruise speed is known to +-30 %; with CP 120 W and W' 12 kJ both ends are times, by hand."""
    asking = ("--cp", "120", "--work", "12")
    power = found(capsys, *asking, "--speeds", "4.5")["less_drag"][0]["power_w"]
    lo, hi = (12_000 / (share * power - 120) for share in (1.3, 0.7))
    assert 30 < lo < 90 < hi < 600
    words = " ".join(asked(capsys, *asking).split())
    said = words[words.index("At cruise speed") : words.index("Estimates:")]
    assert f") {lo:.0f} s to {hi / 60:.1f} min;" in said and said.count(" to ") == 6
    assert "times +-30 %" not in words and "times follow from powers and range widely" in words


def outings(folder: Path, profile: dict[str, Any]) -> None:
    """Two outings by the demo rider: many short quick flights, two long calm ones."""
    from cadence_coach.store.outing_file import save_outing
    from tests.review.build import Fly, Plan, make, steady

    folder.mkdir()
    for n, (cadence, pumps, count) in enumerate(((110, 16, 6), (78, 90, 2))):
        flights = [Fly(20.0 + 140 * i, steady(cadence, pumps, seed=i), speed=4.5) for i in range(count)]
        plan = Plan(flights, profile=profile, uuid=f"00000000-0000-4000-8000-00000000000{n}")
        save_outing(make(plan), folder / f"{n}.outing")


def test_own_cadence_across_outings(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From kept outings: the two long flights at 78 a minute speak, not the six quick ones; the band leans to them."""
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    outings(tmp_path / "lake", demo_profile().table)
    got = found(capsys, "--flights", str(tmp_path / "lake"), "--speeds", "4.5")
    (own,) = got["own"]
    assert own["flights"] == 8 and own["best"] == 2
    assert 60 * own["cadence_hz"] == pytest.approx(78, abs=1)
    assert got["rows"][0]["coach_target_hz"] < got["rows"][0]["target_hz"]
    assert "Your best flights so far" in asked(capsys, "--flights", str(tmp_path / "lake"))


def test_outings_of_others_are_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    table = demo_profile().table
    outings(tmp_path / "lake", {**table, "rider": {**table["rider"], "name": "Someone Else"}})
    assert "there is Someone Else on Heron 165" in asked(capsys, "--flights", str(tmp_path / "lake"), code=2)
    assert "none at all" in asked(capsys, "--own", code=2)
    assert "give one of them" in asked(capsys, "--own", "--flights", str(tmp_path / "lake"), code=2)
