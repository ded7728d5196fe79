"""What is handed out: wheel and sdist carry everything the program reads, and the installed program works without the
checkout.

Short form: a new environment that sees the libraries of this one, nothing of the project. Long form
(CADENCE_COACH_LONG=1): an empty one, in which pip gets the libraries as for anybody; it needs the package index.
"""

from __future__ import annotations

import email
import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

import cadence_coach

PROJECT = Path(__file__).parent.parent
DATA = {".py", ".toml", ".wav", ".html", ".css", ".kv", ".json", ".png", ".txt", ".md", ".ttf"}
LONG = bool(os.environ.get("CADENCE_COACH_LONG"))


def build(source: Path, kind: str, folder: Path) -> Path:
    command = [sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(folder)]
    subprocess.run(command, cwd=source, check=True, capture_output=True)
    (made,) = folder.glob("*.whl" if kind == "wheel" else "*.tar.gz")
    return made


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(PROJECT, "wheel", tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Unpacked."""
    folder = tmp_path_factory.mktemp("sdist")
    with tarfile.open(build(PROJECT, "sdist", folder)) as archive:
        archive.extractall(folder)  # our own archive; Debian 12 has no filter yet
    (unpacked,) = (p for p in folder.iterdir() if p.is_dir())
    return unpacked


class Place:
    """An environment with the program in it, and an empty folder to run it in."""

    def __init__(self, folder: Path, what: Path, with_libraries: bool) -> None:
        self.folder, self.bin = folder, folder / "env" / ("Scripts" if os.name == "nt" else "bin")
        venv.create(folder / "env", with_pip=with_libraries)
        if with_libraries:
            install = [str(self.bin / "python"), "-m", "pip", "install", "-q", str(what)]
        else:  # this environment's libraries come after the new one's own, so the project's copy there is hidden
            site = sysconfig.get_path("purelib", vars={"base": str(folder / "env")})
            (Path(site) / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n")
            install = [sys.executable, "-m", "pip", "--python", str(self.bin / "python"), "install", "-q", "--no-deps"]
            install += ["--no-index", "--no-build-isolation", "--ignore-installed", str(what)]
        done = subprocess.run(install, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        (folder / "empty").mkdir()

    def run(self, *command: str) -> str:
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHONPATH", "CADENCE_COACH", "COV_"))}
        done = subprocess.run(
            [str(self.bin / command[0]), *command[1:]],
            cwd=self.folder / "empty",
            env={**kept, "CADENCE_COACH_HOME": str(self.folder / "home")},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, f"{command}: {done.stdout[-500:]}{done.stderr[-2000:]}"
        return done.stdout

    def coach(self, *arguments: str) -> str:
        return self.run("cadence-coach", *arguments)


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Place:
    return Place(tmp_path_factory.mktemp("installed"), wheel, with_libraries=False)


def wanted() -> set[str]:
    """Every file of the program and its sounds, by its name in the wheel."""
    found = [p.relative_to(PROJECT) for room in ("cadence_coach", "sounds") for p in (PROJECT / room).rglob("*.*")]
    kept = [p for p in found if p.suffix in DATA and "__pycache__" not in p.parts]
    return {(p if p.parts[0] == "cadence_coach" else Path("cadence_coach") / p).as_posix() for p in kept}


def test_every_file_the_program_reads_is_in_the_wheel(wheel: Path) -> None:
    inside = set(zipfile.ZipFile(wheel).namelist())
    assert len(wanted()) > 400
    assert wanted() - inside == set()
    for name in ("foil/demo_rider.toml", "sounds/en/texts.toml", "review/templates/report.html"):
        assert f"cadence_coach/{name}" in inside
    app = {n for n in inside if n.startswith("cadence_coach/app/")}
    assert {".kv", ".py"} <= {Path(n).suffix for n in app}


def test_nothing_else_is_in_the_wheel(wheel: Path) -> None:
    """No tests, no caches, nothing at the top but the program and what is said about it."""
    inside = zipfile.ZipFile(wheel).namelist()
    assert {n.split("/")[0] for n in inside} == {
        "cadence_coach",
        f"cadence_coach-{cadence_coach.__version__}.dist-info",
    }
    assert not [n for n in inside if "__pycache__" in n or Path(n).suffix in (".pyc", ".outing", ".orig")]


def test_the_sdist_makes_the_same_wheel(sdist: Path, wheel: Path, tmp_path: Path) -> None:
    """Byte for byte: hatchling gives files a fixed time. What it is built from is inside, tests and Android too."""
    again = build(sdist, "wheel", tmp_path)
    assert again.read_bytes() == wheel.read_bytes()
    for name in (
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "tests/run",
        "android/buildozer.spec",
        "sounds/make.py",
    ):
        assert (sdist / name).exists(), name
    assert not list(sdist.rglob(".venv*")) + list(sdist.rglob("__pycache__"))


def test_the_sdist_installs(sdist: Path, tmp_path: Path) -> None:
    place = Place(tmp_path, sdist, with_libraries=False)
    assert place.coach("--version").split()[1] == cadence_coach.__version__
    assert "pumps" in place.coach("band")


def test_the_demo_runs_from_the_wheel_alone(installed: Place) -> None:
    """The installed program, and not the checkout, makes table, report and sound in an empty folder."""
    where = installed.run("python", "-c", "import cadence_coach; print(cadence_coach.__file__)")
    assert where.startswith(str(installed.folder / "env"))
    assert "flight" in installed.coach("demo")
    made = {p.name: p for p in (installed.folder / "home").rglob("*") if p.is_file()}
    assert made["heard.wav"].read_bytes()[:4] == b"RIFF" and made["heard.wav"].stat().st_size > 1_000_000
    assert "</html>" in made["report.html"].read_text("utf-8") and made["demo.outing"].stat().st_size > 10_000
    assert not list((installed.folder / "empty").iterdir())


def test_every_command_is_there(installed: Place) -> None:
    listed = re.findall(r"^ {2}(\w+) {2,}", installed.coach("--help"), re.MULTILINE)
    assert {"demo", "replay", "live", "review", "season"} <= set(listed)
    for command in listed:
        assert f"cadence-coach {command}" in installed.coach(command, "--help")


def test_the_version_comes_from_one_place(wheel: Path, installed: Place) -> None:
    """`__version__`: the wheel's name and metadata, the command and the phone's package read it there."""
    version = cadence_coach.__version__
    with zipfile.ZipFile(wheel) as archive:
        (name,) = (n for n in archive.namelist() if n.endswith(".dist-info/METADATA"))
        said = email.message_from_bytes(archive.read(name))
    assert (said["Name"], said["Version"]) == ("cadence-coach", version)
    assert wheel.name.startswith(f"cadence_coach-{version}-py3-none-any")
    assert installed.coach("--version") == f"cadence-coach {version}\n"
    texts = [*PROJECT.glob("*.toml"), *PROJECT.glob("android/*.*"), *(PROJECT / "cadence_coach").rglob("*.py")]
    literal = re.compile(rf"version\S*\s*=\s*[\"']?{re.escape(version)}\b")
    assert [p.relative_to(PROJECT).as_posix() for p in texts if literal.search(p.read_text("utf-8"))] == [
        "cadence_coach/__init__.py"
    ]


@pytest.mark.skipif(not LONG, reason="an environment from nothing, with all libraries, belongs to the long form")
def test_from_nothing(wheel: Path, tmp_path: Path) -> None:
    """What the metadata ask for is enough."""
    place = Place(tmp_path, wheel, with_libraries=True)
    assert "flight" in place.coach("demo")
