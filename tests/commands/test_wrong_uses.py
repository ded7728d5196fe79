"""Every command used wrongly, as people do: one line that says what, where and what to do; the exit code; nothing left
behind."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from cadence_coach import cli
from cadence_coach.store.outing_file import save_outing
from cadence_coach.store.recordings import write_recording
from tests.review.build import Plan, make
from tests.review.test_outing import flies

ASKED_WRONGLY, COULD_NOT = 2, 1
ENDLESS = "goes on until it is stopped"
READ, OUTING = "is read here, and would be written over", "the name of an outing file, which nothing is written over"


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What lies about: a recording, an outing file, a folder of outings, an empty one, and files that are none."""
    folder = tmp_path_factory.mktemp("shelf")
    made = make(Plan(flies([12], pause=15.0)))
    write_recording(folder / "lake", made.accel)
    (folder / "club").mkdir()
    save_outing(made, folder / "club" / "one.outing")
    (folder / "empty").mkdir()
    (folder / "papers").mkdir()
    (folder / "papers" / "list.json").write_text("{}")
    (folder / "afile").write_text("x\n")
    (folder / "junk.outing").write_text("hello")
    assert cli.run(["band", "--template", str(folder / "me.toml")]) == 0
    with zipfile.ZipFile(folder / "text.zip", "w") as packed:
        packed.writestr("a.txt", "hello")
    return folder


@pytest.mark.parametrize(
    ("line", "code", "said"),
    [
        ("demo --seed x", ASKED_WRONGLY, "--seed: must be a whole number"),
        ("demo --seed -1", ASKED_WRONGLY, "--seed: must be 0 or more"),
        ("demo more", ASKED_WRONGLY, "more: nothing more is asked for"),
        ("demo --out afile", ASKED_WRONGLY, "afile: is a file; give a folder for --out"),
        ("demo --out /proc/x", COULD_NOT, "/proc/x: no folder can be made there"),
        ("replay", ASKED_WRONGLY, "REC is missing"),
        ("replay missing", ASKED_WRONGLY, "missing: no such recording"),
        ("replay empty", ASKED_WRONGLY, "empty: no accel.csv"),
        ("replay afile", ASKED_WRONGLY, "afile line 1: no column t_s"),
        ("replay sim:foo:1", ASKED_WRONGLY, "sim:foo:1: no kind 'foo'"),
        ("replay lake --json /proc/x.json", COULD_NOT, "/proc/x.json: cannot be written"),
        ("replay lake/accel.csv --json lake/accel.csv", ASKED_WRONGLY, f"--json lake/accel.csv: {READ}"),
        ("replay recording:lake/accel.csv --json lake/accel.csv", ASKED_WRONGLY, f"--json lake/accel.csv: {READ}"),
        ("replay lake --json lake/meta.json", ASKED_WRONGLY, f"--json lake/meta.json: {READ}"),
        ("replay lake --json club/../lake/accel.csv", ASKED_WRONGLY, f"--json club/../lake/accel.csv: {READ}"),
        ("replay lake --profile me.toml --json me.toml", ASKED_WRONGLY, f"--json me.toml: {READ}"),
        ("replay lake --json club/one.outing", ASKED_WRONGLY, f"--json club/one.outing: {OUTING}"),
        ("replay lake --json x.wav --sound x.wav", ASKED_WRONGLY, "--sound x.wav: is where --json goes"),
        ("replay lake --sound x.mp3", ASKED_WRONGLY, "--sound x.mp3: what is written is a WAV"),
        ("replay squats:1", ASKED_WRONGLY, f"squats:1: {ENDLESS}"),
        ("replay lake phone:", ASKED_WRONGLY, f"phone:: {ENDLESS}"),
        ("import squats:1 --out new", ASKED_WRONGLY, f"squats:1: {ENDLESS}"),
        ("review squats:1", ASKED_WRONGLY, f"squats:1: {ENDLESS}"),
        ("export squats:1", ASKED_WRONGLY, f"squats:1: {ENDLESS}"),
        ("ladder squats:1", ASKED_WRONGLY, f"squats:1: {ENDLESS}"),
        ("land --recording squats:1", ASKED_WRONGLY, f"squats:1: {ENDLESS}"),
        ("simulate afile", ASKED_WRONGLY, "afile: is a file; give a folder"),
        ("simulate x --kind demo", ASKED_WRONGLY, "--kind demo: there is no such kind"),
        ("simulate /proc/x", COULD_NOT, "/proc/x: no folder can be made there"),
        ("live --source foo", ASKED_WRONGLY, "foo: no such recording"),
        ("live --source sim:foo:1", ASKED_WRONGLY, "sim:foo:1: no kind 'foo'"),
        ("live --source sim:calm:1", ASKED_WRONGLY, "the safety list is ticked by hand"),
        ("live --start pier --yes", ASKED_WRONGLY, "--start is 'pier'; choose one of"),
        ("land --wav x.mp3", ASKED_WRONGLY, "--wav x.mp3: what is written is a WAV"),
        ("land --volume 3", ASKED_WRONGLY, "volume 3 dB: choose -40 to 0 dB"),
        ("--lang de review", ASKED_WRONGLY, "--lang: options come after the command, cadence-coach COMMAND --lang"),
        ("land --source phone --yes", COULD_NOT, "phone"),
        ("land --wav l.wav --json l.wav", ASKED_WRONGLY, "--json l.wav: is where --wav goes"),
        ("land --yes --sets 1 --set-seconds 2 --sound wav:l.wav --json l.wav", ASKED_WRONGLY, "is where --sound goes"),
        ("land --recording lake --json lake/accel.csv", ASKED_WRONGLY, f"--json lake/accel.csv: {READ}"),
        ("land --tempo 180 --sets 1 --set-seconds 2 --json /proc/x", COULD_NOT, "/proc/x: cannot be written"),
        ("land --source foo", ASKED_WRONGLY, "foo: no such recording"),
        ("land --recording lake --pictures afile", ASKED_WRONGLY, "afile: is a file; give a folder for --pictures"),
        ("band missing.toml", ASKED_WRONGLY, "missing.toml: cannot be read as a profile"),
        ("band me.toml --speeds 50", ASKED_WRONGLY, "--speeds 50: give speeds in m/s"),
        ("band me.toml --picture x.pdf", ASKED_WRONGLY, "--picture x.pdf: give a name that ends in .png or .svg"),
        ("review missing", ASKED_WRONGLY, "missing: no such file or folder"),
        ("review club", ASKED_WRONGLY, "club: is a folder; name one outing in it, such as club/one.outing"),
        ("review junk.outing", ASKED_WRONGLY, "junk.outing: is no outing file"),
        ("review club/one.outing --flight 1", ASKED_WRONGLY, "--flight goes with --note"),
        ("review club/one.outing --note x --at 9999", ASKED_WRONGLY, "--at 9999: one.outing goes from 0 to"),
        ("review club/one.outing --note ", ASKED_WRONGLY, "--note is given without what belongs to it"),
        ("review club/one.outing --ended 9=fall", ASKED_WRONGLY, "--ended 9=fall: no flight '9' in one.outing"),
        ("review club/one.outing --helped 1=wind", ASKED_WRONGLY, "--helped 1=wind: 'wind' is none of"),
        ("review club/one.outing --report afile/x", COULD_NOT, "afile/x: cannot be written"),
        ("review club/one.outing --notes-out /proc/x", COULD_NOT, "/proc/x: cannot be written"),
        ("review club/one.outing --json club/one.outing", ASKED_WRONGLY, f"--json club/one.outing: {OUTING}"),
        ("review club/one.outing --report club/one.outing", ASKED_WRONGLY, f"--report club/one.outing: {OUTING}"),
        ("review club/one.outing --notes-out club/one.outing", ASKED_WRONGLY, f"--notes-out club/one.outing: {OUTING}"),
        ("review club/one.outing --json y --report y", ASKED_WRONGLY, "--report y: is where --json goes"),
        ("review lake --report lake/accel.csv", ASKED_WRONGLY, f"--report lake/accel.csv: {READ}"),
        ("review lake --profile me.toml --notes-out me.toml", ASKED_WRONGLY, f"--notes-out me.toml: {READ}"),
        ("review --lang fr", ASKED_WRONGLY, "--lang fr: choose one of en, de"),
        ("season missing", ASKED_WRONGLY, "missing: no such folder"),
        ("season club --rider Nobody", ASKED_WRONGLY, "--rider Nobody: no such outing"),
        ("season club --json p --report p", ASKED_WRONGLY, "--report p: is where --json goes"),
        ("season club --report club/one.outing", ASKED_WRONGLY, f"--report club/one.outing: {OUTING}"),
        ("season club --picture p.jpg", ASKED_WRONGLY, "--picture p.jpg: give a name that ends in .png, .svg or .pdf"),
        ("ladder club --json club/one.outing", ASKED_WRONGLY, f"--json club/one.outing: {OUTING}"),
        ("ladder lake --json lake/accel.csv", ASKED_WRONGLY, f"--json lake/accel.csv: {READ}"),
        ("ladder missing", ASKED_WRONGLY, "missing: no such file or folder"),
        ("export missing", ASKED_WRONGLY, "missing: no such file or folder"),
        ("export club/one.outing --to afile", ASKED_WRONGLY, "afile: is a file; give a folder for --to"),
        ("export club/one.outing --as text --to club/one.outing", ASKED_WRONGLY, f"--to club/one.outing: {OUTING}"),
        ("export lake/accel.csv --as json --to lake/accel.csv", ASKED_WRONGLY, f"--to lake/accel.csv: {READ}"),
        ("export club/one.outing --to -", ASKED_WRONGLY, "--as csv --to -: is no single text; give a folder"),
        ("export club/one.outing --as outing --to -", ASKED_WRONGLY, "--as outing --to -: is no single text"),
        ("import missing --out new", ASKED_WRONGLY, "missing: no such recording"),
        ("import papers --out new", ASKED_WRONGLY, "papers: nothing in it to take in"),
        ("import papers/list.json --out new", ASKED_WRONGLY, "papers/list.json: is no file of notes"),
        ("import text.zip --out new", ASKED_WRONGLY, "text.zip: a.txt line 1: no table"),
        ("import lake --out afile", ASKED_WRONGLY, "afile: is a file; give a folder for --out"),
        ("restudy empty", ASKED_WRONGLY, "empty: no outing file"),
        ("restudy club --out afile", ASKED_WRONGLY, "afile: is a file; give a folder for --out"),
        ("restudy club --workers 2 --cluster tcp://a:1", ASKED_WRONGLY, "leave out --workers or --cluster"),
        ("restudy club --out new --cluster nonsense", ASKED_WRONGLY, "--cluster nonsense: no address"),
        ("restudy club --out new --cluster tcp://127.0.0.1:9", COULD_NOT, "no cluster answers there"),
        ("app --size big", ASKED_WRONGLY, "--size big: give phone, or WIDTHxHEIGHT"),
        ("app --source foo", ASKED_WRONGLY, "foo: no such recording"),
        ("check --sound bogus", ASKED_WRONGLY, "sound output 'bogus': choose device"),
    ],
)
def test_wrong_uses(
    shelf: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    line: str,
    code: int,
    said: str,
) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    monkeypatch.chdir(shelf)
    before = contents(shelf)
    assert cli.run(line.split(" ")[:-1] if line.endswith(" ") else line.split()) == code
    err = capfd.readouterr().err
    assert err.startswith("cadence-coach: ") and err.count("\n") == 1 and said in err
    assert contents(shelf) == before


def contents(folder: Path) -> dict[str, bytes | None]:
    return {str(path): path.read_bytes() if path.is_file() else None for path in sorted(folder.rglob("*"))}


def test_of_the_json_in_a_folder_notes_alone_are_taken(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    (tmp_path / "both").mkdir()
    (tmp_path / "both" / "one.outing").write_bytes((shelf / "club" / "one.outing").read_bytes())
    (tmp_path / "both" / "figures.json").write_text(json.dumps({"format": "another"}))
    assert cli.run(["import", str(tmp_path / "both"), "--out", str(tmp_path / "new")]) == 0
    assert "1 flight, 12 pumps" in capfd.readouterr().out


def test_a_folder_of_outings_has_a_ladder(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    assert cli.run(["ladder", str(shelf / "club"), "--json", "-"]) == 0
    whole = json.loads(capfd.readouterr().out)
    assert cli.run(["ladder", str(shelf / "club" / "one.outing"), "--json", "-"]) == 0
    assert whole == json.loads(capfd.readouterr().out)
