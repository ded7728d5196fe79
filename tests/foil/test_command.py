"""The command `band`: table, JSON, picture, two foils, and what it refuses."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from cadence_coach import cli
from cadence_coach.foil.answer import REASONS, answer, assumed_effort
from cadence_coach.foil.band import band_table
from cadence_coach.foil.endurance import Endurance, fit
from cadence_coach.foil.flights import best_efforts, own_effort, read_flights
from cadence_coach.foil.own import FlightFigure, own_cadences
from cadence_coach.foil.profile import demo_profile
from cadence_coach.foil.solve import solve
from cadence_coach.palette import DRAG
from tests.foil.asking import FLIGHTS, OTHER, asked, found
from tests.foil.riders import B


def test_table_says_what_it_is_and_that_it_is_an_estimate(capsys: pytest.CaptureFixture[str]) -> None:
    out = asked(capsys)
    words = " ".join(out.split())
    assert "invented rider" in words and "Mika Sand (invented)" in words
    assert REASONS["stall"] in words and REASONS["stroke"] in words
    assert "+-30 %" in words and "Not medical advice" in words and "Local rules and qualified instruction" in words
    assert max(map(len, out.splitlines())) <= 80


def test_json_is_the_same_as_the_table_in_the_product(capsys: pytest.CaptureFixture[str]) -> None:
    """Keys as documented, no NaN, None where nothing can be pumped, the coach's band from the lookup."""
    got = found(capsys, "--speeds", "2.5:7:0.5")
    assert got["format"] == "cadence-coach-band/1" and set(got["versions"]) == {"detector", "coach", "model"}
    table = band_table(demo_profile().setup)
    assert [r["speed_m_s"] for r in got["rows"]] == [2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 6.5, 7]
    for row in got["rows"]:
        band = table.at(row["speed_m_s"])
        assert row["coach_lo_hz"] == band.lo and row["coach_hi_hz"] == band.hi and row["share"] == band.share
        assert row["drag_n"] == pytest.approx(sum(row["drag_parts_n"].values()))
        if row["feasible"]:
            assert row["hard_lo_hz"] <= row["lo_hz"] <= row["target_hz"] <= row["hi_hz"] <= row["hard_hi_hz"]
            assert row["outer_lo_hz"] <= row["lo_hz"] and row["hi_hz"] <= row["outer_hi_hz"]
            assert row["power_lo_w"] == pytest.approx(0.7 * row["power_w"])
            assert row["power_w"] == pytest.approx(row["speed_m_s"] * row["drag_n"] / row["drag_share"])
            assert row["size_needed_g"] < row["size_g"] and row["lasts_lo_s"] > 0
        else:
            assert row["reason"] in REASONS and row["reason"] in row["reasons"]
            assert all(
                row[k] is None for k in ("lo_hz", "target_hz", "hi_hz", "power_w", "coach_lo_hz", "size_needed_g")
            )
    assert got["lowest_speed_m_s"] < 3.5 and got["highest_speed_m_s"] > 5.5
    assert got["least_drag_speed_m_s"] < got["least_effort_speed_m_s"]


def test_two_foils(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(OTHER)
    got = found(capsys, "--against", str(other), "--speeds", "5")
    mine, theirs = got["rows"][0], got["against"]["rows"][0]
    assert theirs["drag_n"] < mine["drag_n"] and theirs["power_w"] < mine["power_w"]
    assert theirs["lasts_lo_s"] > mine["lasts_lo_s"]
    assert got["effort"]["cp_w"] == got["against"]["effort"]["cp_w"]  # as heavy, both assumed
    out = " ".join(asked(capsys, "--against", str(other)).split())
    assert "A: Heron 165 (invented) B: Swift" in out and "Not given, taken:" in out


def test_sensitivity(capsys: pytest.CaptureFixture[str]) -> None:
    out = asked(capsys, "--sensitivity", "--speeds", "4.5")
    assert "leg travel -20 %" in out and "profile drag x 1.3" in out


@pytest.mark.parametrize("name", ["band.png", "band.svg"])
def test_picture(capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str) -> None:
    """Upright, large enough to read on a phone; drawn with ink in each of the drag's colours."""
    path = tmp_path / name
    asked(capsys, "--picture", str(path), "--speeds", "4.5")
    if name.endswith("png"):
        image = Image.open(path).convert("RGB")
        assert image.width >= 900 and image.height > 1.5 * image.width
        seen = dict((colour, count) for count, colour in image.getcolors(1 << 24))
        for part, colour in DRAG.items():
            rgb = tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))
            assert seen.get(rgb, 0) > 100, part
    else:
        text = path.read_text()
        assert text.lstrip().startswith("<?xml") and all(colour in text for colour in DRAG.values())


def test_picture_of_two(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    other, path, flights = tmp_path / "other.toml", tmp_path / "two.png", tmp_path / "flights.csv"
    other.write_text(OTHER)
    flights.write_text(FLIGHTS)
    asked(capsys, "--picture", str(path), "--against", str(other), "--flights", str(flights))
    assert Image.open(path).width >= 900


def test_picture_of_what_cannot_be_pumped(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Legs that cannot: a picture and a table with the reason, no crash."""
    profile = tmp_path / "short.toml"
    profile.write_text("[rider]\nmass_kg = 150\nleg_stroke_m = 0.15\n[foil]\nwing_area_m2 = 0.08\nspan_m = 0.7\n")
    got = found(capsys, str(profile))
    assert got["lowest_speed_m_s"] is None and not any(r["feasible"] for r in got["rows"]) and got["less_drag"] == []
    out = asked(capsys, str(profile), "--picture", str(tmp_path / "none.svg"))
    assert "By this estimate nothing can be pumped" in out and "too fast" not in out
    assert "by this estimate nothing can be pumped" in (tmp_path / "none.svg").read_text()


def lightness(colour: str) -> float:
    """CIE L* of an sRGB colour (IEC 61966-2-1, CIE 1976; published formulas)."""
    linear = []
    for i in (1, 3, 5):
        c = int(colour[i : i + 2], 16) / 255
        linear.append(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4)
    y = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


def test_neighbours_in_the_stack_differ_in_lightness() -> None:
    """So that they stay apart in any kind of colour blindness, and in grey: 20 L* or more."""
    stack = [lightness(c) for c in DRAG.values()]
    assert min(abs(a - b) for a, b in pairwise(stack)) >= 20


@pytest.mark.parametrize(
    "arguments, words",
    [
        (["--speeds", "4,x"], "--speeds 4,x"),
        (["--speeds", "5:4:1"], "--speeds"),
        (["--speeds", "3:6:0"], "--speeds"),
        (["--speeds", "0:6:1"], "0.5 to 15"),
        (["--speeds", "nan"], "--speeds"),
        (["--speeds", "3:6:0.0001"], "at most 500"),
        (["--picture", "band.gif"], ".png or .svg"),
        (["--cp", "220"], "go together"),
        (["--cp", "5", "--work", "15"], "50 to 600 W"),
        (["--cp", "220", "--work", "15000"], "2 to 60 kJ"),
        (["no-such.toml"], "cannot be read"),
        (["--flights", "no-such.csv"], "cannot be read"),
        (["--speed", "4"], "--speed"),
    ],
)
def test_what_is_refused(capsys: pytest.CaptureFixture[str], arguments: list[str], words: str) -> None:
    assert words in asked(capsys, *arguments, code=2)


def test_a_bad_profile_computes_nothing(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    profile = tmp_path / "bad.toml"
    profile.write_text(OTHER.replace("0.105", "1050"))
    text = asked(capsys, str(profile), code=2)
    assert "wing_area_m2 = 1050 is outside 0.05 to 0.4 m2; if that was in cm2, write 0.105" in text


def test_a_picture_that_cannot_be_written(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    capsys.readouterr()
    assert cli.run(["band", "--speeds", "4.5", "--picture", str(tmp_path / "none" / "x.png")]) == 1
    err = capsys.readouterr().err
    assert "cannot be written" in err and err.count("\n") == 1


@pytest.mark.parametrize(
    "text, words",
    [
        ("speed_m_s,duration_s\n4,60\n", "no column cadence_hz"),
        ("cadence_hz,duration_s\n1.4,60\n84,60\n", "line 3: cadence_hz = 84 is outside 0.4 to 4"),
        ("cadence_hz,duration_s\nx,60\n", "line 2: cadence_hz = 'x' must be a number"),
        ("cadence_hz,duration_s\nnan,60\n", "line 2"),
        ("cadence_hz,duration_s\n,60\n", "line 2"),
        ("", "no column"),
    ],
)
def test_bad_tables_of_flights(capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "flights.csv"
    path.write_text(text)
    assert words in asked(capsys, "--flights", str(path), code=2)


def test_best_efforts_are_those_that_nothing_beats(tmp_path: Path) -> None:
    path = tmp_path / "flights.csv"
    path.write_text(FLIGHTS)
    flights = read_flights(path)
    assert len(flights) == 8 and flights[-1].speed is None and flights[5].fade is None
    durations, powers = best_efforts(B, flights)
    assert durations == sorted(durations) and powers == sorted(powers, reverse=True)
    assert 700 in durations and 25 not in durations
    assert own_effort(B, flights).endurance.cp > 100


def test_short_flights_call_for_three_parameters() -> None:
    """Flights as a rider of 220 W, 15 kJ and 700 W would fly them: given back to a tenth, and two parameters would
    not."""
    rider = Endurance(220, 15_000, 700)
    speeds = np.linspace(4.2, 6.0, 12)
    found = solve(B, speeds)
    flights = [
        FlightFigure(float(v), float(f), rider.duration(float(p)))
        for v, f, p in zip(speeds, found.target, found.pump.power, strict=True)
    ]
    fitted = own_effort(B, flights)
    assert fitted.endurance.p_max == pytest.approx(700, rel=0.1)
    assert fitted.endurance.cp == pytest.approx(220, rel=0.1)
    two = fit(*best_efforts(B, flights))
    assert two.endurance.p_max is None and two.endurance.w < 0.9 * 15_000


def test_answer_for_the_assumed_rider_is_marked() -> None:
    profile = demo_profile()
    got = answer(profile, [4.5])
    assert got["effort"]["source"] == "assumed"
    rider = assumed_effort(profile.setup.mass)
    assert 200 <= rider.cp <= 260 and 12e3 <= rider.w <= 22e3  # typical published cycling values, from memory
    given = answer(profile, [4.5], Endurance(300, 20_000), own_cadences([FlightFigure(4.5, 1.3, 60)] * 5))
    assert given["effort"]["cp_w"] == 300 and given["q"] < 1


def test_the_phone_needs_numpy_and_attrs_alone() -> None:
    """All of foil, with everything else out of reach, answers for the demo rider."""
    program = """
import sys
class Wall:
    def find_spec(self, name, path=None, target=None):
        if name.split('.')[0] in {'scipy', 'matplotlib', 'sounddevice', 'typer', 'rich', 'kivy', 'jinja2', 'pandas'}:
            raise ImportError(name)
sys.meta_path.insert(0, Wall())
from cadence_coach.foil.answer import answer
from cadence_coach.foil.profile import demo_profile
from cadence_coach.foil.solve import solve
from cadence_coach.foil import drag, endurance, flights, own, sensitivity, share, unsteady, water
assert answer(demo_profile(), [4.5])['rows'][0]['feasible']
print('ok')
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.stdout == "ok\n", done.stderr
