"""review, season, ladder, export and restudy as a person types them, on real outing files."""

from __future__ import annotations

import json
from pathlib import Path

import attrs
import gpxpy
import pytest

from cadence_coach import cli
from cadence_coach.review.definitions import DEFINITIONS
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import write_recording
from tests.review.build import Plan, make
from tests.review.test_outing import flies
from tests.review.test_season import PROFILE, outing


def run(capsys, *arguments):
    code = cli.run(list(arguments))
    said = capsys.readouterr()
    return code, said.out, said.err


def test_review_of_the_newest_outing(home, capsys):
    code, out, _ = run(capsys, "review", "--report", "r.html", "--json", "r.json")
    assert code == 0
    assert "20 June 2026" in out and "Work on: Push deeper, then get lighter." in out and "Written: r.html" in out
    body = json.loads(Path("r.json").read_text())
    assert [f["pumps"] for f in body["flights"]] == [12, 40, 30] and body["work_on"]["focus"] == "size"
    page = Path("r.html").read_text()
    assert page.startswith("<!doctype html>") and "Way over ground" in page
    run(capsys, "review", "--report", "r.html", "--no-place")
    assert "Way over ground" not in Path("r.html").read_text()


def test_json_on_the_screen_is_json_alone(home, capsys):
    code, out, _ = run(capsys, "review", "--json", "-")
    assert code == 0 and json.loads(out)["format"] == "cadence-coach-review/1"


def test_review_of_a_recording(home, capsys, tmp_path):
    write_recording(tmp_path / "lake", make(Plan(flies([12], pause=15.0))).accel)
    code, out, _ = run(capsys, "review", "lake")
    assert code == 0 and "Work on:" in out


def test_corrections_and_notes_are_kept_with_the_outing(home, capsys):
    path = home / "3.outing"
    code, out, _ = run(
        capsys,
        "review",
        str(path),
        "--ended",
        "2=touch_down",
        "--helped",
        "3=wake",
        "--started",
        "1=step",
        "--note",
        "Felt heavy",
        "--flight",
        "2",
    )
    assert code == 0 and "touch-down" in out and "Helped by swell or wake: flight 3." in out and "Note of rider" in out
    kept = load_outing(path)
    assert kept.tags["ended_by:1"] == "touch_down" and kept.tags["helped:2"] == "wake"
    assert kept.tags["started_by:0"] == "step" and kept.flights[0].started_by != "step" and "step, " in out
    assert kept.notes[0].text == "Felt heavy" and kept.notes[0].at_s == kept.flights[1].start


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--ended", "9=fall"], "which has 3"),
        (["--ended", "0=fall"], "which has 3"),
        (["--ended", "\u00b2=fall"], "no flight '\u00b2' in 3.outing, which has 3"),
        (["--ended", "9" * 5000 + "=fall"], "which has 3"),
        (["--ended", "1=sank"], "none of fall, touch_down"),
        (["--ended", "fall"], "give N=VALUE"),
        (["--started", "9=step"], "which has 3"),
        (["--started", "1=dock"], "none of run_up, rope, step"),
        (["--helped", "1=luck"], "none of swell, wake, no"),
        (["--focus", "luck"], "none of take, start"),
        (["--note", " "], "a note has 1 to"),
        (["--note", "x", "--flight", "7"], "has 3 flights"),
        (["--note", "x", "--who", ""], "a note needs a name"),
        (["--who", "Ida"], "--who goes with --note"),
        (["--confirm", ""], "--confirm: names nobody; give the name"),
        (["--confirm", " ", "--ended", "1=fall"], "--confirm: names nobody; give the name"),
        (["--focus", ""], "none of take, start"),
    ],
)
def test_a_wrong_correction_is_one_line_and_changes_nothing(home, capsys, arguments, said):
    path = home / "3.outing"
    before = path.read_bytes()
    code, _, err = run(capsys, "review", str(path), *arguments)
    assert code == 2 and said in err and len(err.strip().splitlines()) == 1
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--focus", "luck"], 2, "--focus luck: is none of take, start"),
        (["--focus", "take"], 2, "this advice is nothing the coach can listen for"),
        (["--profile", "nope.toml"], 2, "nope.toml: cannot be read as a profile"),
        (["--focus", "size", "--profile", "nope.toml"], 2, "nope.toml: cannot be read as a profile"),
        (["--json", "nowhere/x.json"], 1, "nowhere/x.json: cannot be written"),
        (["--report", "nowhere/r.html"], 1, "nowhere/r.html: cannot be written"),
        (["--notes-out", "."], 1, ".: cannot be written"),
        (["--who", ""], 2, "a note needs a name"),
        (["--flight", "7"], 2, "has 1 flight"),
        (["--at", "-5"], 2, "--at -5: one.outing goes from 0 to"),
        (["--at", "nan"], 2, "--at nan: one.outing goes from 0 to"),
        (["--at", "1e9"], 2, "--at 1e+09: one.outing goes from 0 to"),
    ],
)
def test_what_is_asked_wrongly_beside_a_note_keeps_nothing(home, capsys, tmp_path, arguments, code, said):
    """Else, put right and typed again, it would be there twice."""
    path = save_outing(make(Plan(flies([12], pause=15.0))), tmp_path / "one.outing")
    before = path.read_bytes(), sorted(tmp_path.rglob("*"))
    given = ["--note", "caught an edge", "--ended", "1=fall", "--confirm", "Ida (invented)", *arguments]
    found, out, err = run(capsys, "review", "one.outing", *given)
    assert (found, out) == (code, "") and said in err and err.count("\n") == 1
    assert (path.read_bytes(), sorted(tmp_path.rglob("*"))) == before


def test_a_coachs_notes_come_back_by_a_small_file(home, capsys, tmp_path):
    """Coach and rider have a copy each; the coach's note travels alone."""
    coach = tmp_path / "coach.outing"
    coach.write_bytes((home / "3.outing").read_bytes())
    assert (
        run(
            capsys,
            "review",
            str(coach),
            "--note",
            "Longer <b>legs</b>",
            "--who",
            "Ida (invented)",
            "--at",
            "40",
            "--notes-out",
            "notes.json",
        )[0]
        == 0
    )
    for _ in range(2):  # merging twice changes nothing
        assert run(capsys, "import", "notes.json")[0] == 0
    kept = load_outing(home / "3.outing").notes
    assert [(n.who, n.text, n.at_s) for n in kept] == [("Ida (invented)", "Longer <b>legs</b>", 40.0)]
    run(capsys, "review", str(home / "3.outing"), "--report", "r.html")
    assert "Longer &lt;b&gt;legs&lt;/b&gt;" in Path("r.html").read_text()


def test_season_with_page_picture_and_json(home, capsys):
    code, out, _ = run(capsys, "season", "--report", "s.html", "--picture", "s.png", "--json", "s.json")
    assert code == 0 and out.startswith("3 outings")
    assert Path("s.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    assert Path("s.html").read_text().count("<svg") >= 4
    body = json.loads(Path("s.json").read_text())
    assert len(body["rows"]) == 3 and body["foils"][0]["outings"] == 3
    assert run(capsys, "season", "--foil", "Tern 150 (invented)")[1].startswith("3 outings")
    code, _, err = run(capsys, "season", "--foil", "Gull")
    assert code == 2 and "Tern 150 (invented)" in err


def test_a_season_of_many_riders_is_a_line_each_and_then_one_of_them(home, capsys):
    other = {**PROFILE, "rider": {**PROFILE["rider"], "name": "Ola Berg (invented)"}}
    for n in (4, 5):
        save_outing(outing(n, profile=other), home / f"{n}.outing")
    code, out, _ = run(capsys, "season", str(home))
    rows = out.splitlines()
    assert code == 0 and rows[0].split()[:2] == ["rider", "outings"] and "2 riders" in rows[-1]
    assert [r.split("  ")[0] for r in rows[1:3]] and any(r.startswith("Ola Berg (invented)") for r in rows[1:3])
    code, _, err = run(capsys, "season", str(home), "--report", "s.html")
    assert code == 2 and "give --rider NAME" in err and not Path("s.html").exists()
    code, out, _ = run(capsys, "season", str(home), "--rider", "ola berg (INVENTED)", "--report", "s.html")
    assert code == 0 and out.startswith("2 outings") and Path("s.html").exists()
    code, _, err = run(capsys, "season", "--rider", "Nobody")
    assert code == 2 and "Ola Berg (invented)" in err
    code, out, err = run(capsys, "ladder", "--json", "-")
    assert code == 0 and "--rider NAME" in err and json.loads(out)["rungs"]


def test_among_several_riders_the_own_profile_says_who(home, capsys):
    other = {**PROFILE, "rider": {**PROFILE["rider"], "name": "Ola Berg (invented)"}}
    save_outing(outing(4, profile=other), home / "4.outing")
    (home.parent / "me.toml").write_text(
        f'[rider]\nname = "{PROFILE["rider"]["name"]}"\nmass_kg = 72\n[foil]\nwing_area_m2 = 0.16\nspan_m = 1.2\n'
    )
    code, out, _ = run(capsys, "season")
    assert code == 0 and out.startswith("3 outings")
    assert "riders" in run(capsys, "season", str(home))[1]


def test_season_and_review_of_nothing(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "new"))
    code, out, _ = run(capsys, "season")
    assert code == 0 and "No outing yet" in out
    code, _, err = run(capsys, "review")
    assert code == 1 and "no outing yet" in err
    code, out, _ = run(capsys, "ladder")
    assert code == 0 and "next" in out


def test_armchair_outings_are_left_out_of_season_and_ladder_and_that_is_said(home, capsys):
    made = outing(4, (12, 90, 30), profile=PROFILE)
    sat = attrs.evolve(made, meta={**made.meta, "device": "simulated, invented rider, kind calm, seed 1"})
    save_outing(sat, home / "4.outing")
    out = run(capsys, "season")[1]
    assert out.startswith("3 outings,") and "longest flight 24 s" in out
    assert out.count("1 armchair outing not counted") == 1
    code, out, _ = run(capsys, "ladder", "--lang", "de")
    assert code == 0 and out.count("1 Ausfahrt im Sessel nicht gezählt") == 1 and "54 s" not in out
    for n in (1, 2, 3):
        (home / f"{n}.outing").unlink()
    assert "54 s" in run(capsys, "ladder")[1] and "Armchair outings only" in run(capsys, "season")[1]


def test_german_reaches_the_lines_around_the_figures(home, capsys, tmp_path):
    other = {**PROFILE, "rider": {**PROFILE["rider"], "name": "Ola Berg (invented)"}}
    save_outing(outing(7, profile=other), home / "7.outing")
    said = run(capsys, "ladder", "--lang", "de")[2]
    assert said.startswith("Von ") and said.rstrip().endswith(", zuletzt gefahren; --rider NAME für andere.")
    (tmp_path / "none").mkdir()
    assert run(capsys, "season", "none", "--lang", "de")[1].startswith("Noch keine Ausfahrt in none. Fahr eine")
    assert run(capsys, "season", "none")[1].startswith("No outing yet in none. Ride one, or `import` a recording")
    (home / "8.outing").write_text("no outing")
    assert "Nicht gelesen: " in run(capsys, "season", "--rider", "Ola Berg (invented)", "--lang", "de")[1]


def test_the_ladder_says_why_a_rung_of_the_rope_is_not_reached(home, capsys):
    tries = flies([10, 10], started_by="rope", share=0.45, height=0.6)
    drill = Plan(tries, settings={"start": "rope_drill"}, uuid="00000000-0000-4000-8000-000000000009")
    save_outing(make(drill), home / "9.outing")
    line = next(x for x in run(capsys, "ladder", str(home / "9.outing"))[1].splitlines() if " Up and down " in x)
    assert "10 in a row" in line and "Not confirmed" in line and "review --confirm NAME" in line
    run(capsys, "review", str(home / "9.outing"), "--confirm", "Jo (invented)")
    line = next(x for x in run(capsys, "ladder", str(home / "9.outing"))[1].splitlines() if " Up and down " in x)
    assert "Not confirmed" not in line


def test_the_ladder_names_what_it_could_not_read(home, capsys):
    """Else a rung that was reached in it looks as if it never was."""
    (home / "2.outing").write_bytes((home / "2.outing").read_bytes()[:3000])
    for lang, said in (("en", "Not read"), ("de", "Nicht gelesen")):
        code, out, err = run(capsys, "ladder", "--lang", lang, "--json", "-")
        assert code == 0 and json.loads(out)["rungs"]
        assert err.startswith(f"{said}: {home / '2.outing'}: is damaged") and err.count("\n") == 1


def test_ladder_of_all_outings_and_of_one(home, capsys):
    code, out, _ = run(capsys, "ladder", "--json", "l.json")
    assert code == 0 and "qualified instruction" in out
    body = json.loads(Path("l.json").read_text())
    assert len(body["rungs"]) == 16 and body["next"]
    assert run(capsys, "ladder", str(home / "1.outing"), "--all")[1].count("why:") == 16


@pytest.mark.parametrize("form", ["csv", "json", "gpx", "text"])
def test_export(home, capsys, form):
    code, _, err = run(capsys, "export", str(home / "3.outing"), "--as", form, "--to", "out")
    assert code == 0, err
    written = sorted(p.name for p in Path("out").iterdir())
    assert (
        written
        == {"csv": ["3-cycles.csv", "3-flights.csv"], "json": ["3.json"], "gpx": ["3.gpx"], "text": ["3.txt"]}[form]
    )
    if form == "gpx":
        assert len(gpxpy.parse(Path("out/3.gpx").read_text()).waypoints) == 3
        assert run(capsys, "export", str(home / "3.outing"), "--as", "gpx", "--no-place")[0] == 2


@pytest.mark.parametrize("spec", [".", "../lake", "accel.csv.gz", "recording:../lake/accel.csv.gz"])
def test_an_export_has_the_recording_s_name_as_replay_says_it(capsys, tmp_path, monkeypatch, spec):
    write_recording(tmp_path / "lake", make(Plan(flies([12], pause=15.0))).accel, gz=True)
    monkeypatch.chdir(tmp_path / "lake")
    code, _, _ = run(capsys, "export", spec, "--to", str(tmp_path / "e"))
    assert code == 0
    assert sorted(p.name for p in (tmp_path / "e").iterdir()) == ["lake-cycles.csv", "lake-flights.csv"]


def test_text_to_paste_goes_to_the_screen(home, capsys):
    code, out, _ = run(capsys, "export", "--as", "text")
    assert code == 0 and out.startswith("On the water, 20 June 2026") and "Written" not in out


def test_restudy_lists_failures_and_goes_on(home, capsys):
    (home / "bad.outing").write_text("no")
    code, out, _ = run(capsys, "restudy", str(home), "--out", "tables", "--workers", "1")
    assert code == 0 and out.startswith("3 outings") and "Not done:" in out and "times real time" in out
    assert sorted(p.name for p in Path("tables").iterdir()) == ["failures.csv", "flights.csv", "outings.csv"]
    for path in home.glob("?.outing"):
        path.unlink()
    assert run(capsys, "restudy", str(home), "--workers", "1")[0] == 1


def test_docs_hold_the_table_of_figures():
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
    for d in DEFINITIONS:
        assert f"| `{d.name}` | {d.title} | {d.unit} | {d.says} |" in text, d.name
