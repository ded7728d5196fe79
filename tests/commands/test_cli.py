"""The command line itself: what is loaded, how it ends, what it says."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import pytest
import typer

from cadence_coach import __version__, cli
from cadence_coach.errors import CouldNot, Refused

TOLD = "import sys; from cadence_coach.cli import run; code = run(sys.argv[1:]); "


def python(program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=False)


def example(count: int, name: Annotated[str, typer.Option(help="A name.")] = "x") -> int | None:
    """Do nothing much.

    Example: cadence-coach example 3
    """
    if name == "refused":
        raise Refused("name: this one is not wanted;\n give another")
    if name == "could not":
        raise CouldNot("the sea is closed; come back tomorrow")
    if name == "no file":
        open("no/such").close()
    if name == "interrupt":
        raise KeyboardInterrupt
    if name == "exit":
        raise typer.Exit(7)
    print(f"{count} {name}")
    return None


def ended(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *arguments: str) -> tuple[int, str, str]:
    monkeypatch.setattr(cli, "_dispatch", lambda argv: cli._call(example, "example", argv))
    code = cli.run(list(arguments))
    out, err = capsys.readouterr()
    return code, out, err


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], [], ["--version"], ["replya"]])
def test_nothing_heavy_is_loaded_before_a_command_is_asked_for(arguments: list[str]) -> None:
    heavy = ("typer", "numpy", "rich", "kivy", "scipy", "matplotlib", "attrs", "cadence_coach.core")
    done = python(TOLD + f"print([m for m in {heavy!r} if m in sys.modules])", *arguments)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_overview_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["--help"]) == 0
    lines = capsys.readouterr().out.splitlines()
    for name, what in cli.COMMANDS.items():
        assert any(line.split() == [name, *what.split()] for line in lines)
    assert max(map(len, lines)) <= 120


def test_a_python_without_the_libraries_is_told_so() -> None:
    hides = "import sys; sys.modules['typer'] = None; "
    done = python(hides + TOLD + "sys.exit(code)", "demo")
    assert done.returncode == 1 and done.stderr.count("\n") == 1
    assert done.stderr.startswith("cadence-coach: typer is not installed for ")


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["--version"]) == 0
    assert capsys.readouterr().out == f"cadence-coach {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["replya"], "cadence-coach: no command 'replya', did you mean 'replay'?; see cadence-coach --help"),
        (["qqq"], "cadence-coach: no command 'qqq'; see cadence-coach --help"),
        (["--hepl"], "cadence-coach: no option '--hepl', did you mean '--help'?; see cadence-coach --help"),
    ],
)
def test_an_unknown_word_names_the_nearest(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(arguments) == 2
    assert capsys.readouterr().err == words + "\n"


@pytest.mark.parametrize(
    ("arguments", "code", "out", "err"),
    [
        (["3"], 0, "3 x\n", ""),
        (["3", "--name", "refused"], 2, "", "cadence-coach: name: this one is not wanted; give another\n"),
        (["3", "--name", "could not"], 1, "", "cadence-coach: the sea is closed; come back tomorrow\n"),
        (
            ["3", "--name", "no file"],
            1,
            "",
            "cadence-coach: no/such: No such file or directory; check the path, your rights to it and the space left\n",
        ),
        (["3", "--name", "interrupt"], 130, "", "cadence-coach: interrupted\n"),
        (["3", "--name", "exit"], 7, "", ""),
    ],
)
def test_how_a_command_ends(
    arguments: list[str],
    code: int,
    out: str,
    err: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert ended(capsys, monkeypatch, *arguments) == (code, out, err)


@pytest.mark.parametrize("arguments", [[], ["three"], ["3", "--nmae", "x"], ["3", "4"], ["3", "--name"]])
def test_wrong_arguments_are_one_line(
    arguments: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out, err = ended(capsys, monkeypatch, *arguments)
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("cadence-coach: ")
    assert err.endswith("see cadence-coach example --help\n")


def test_help_of_a_command_is_plain(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    code, out, err = ended(capsys, monkeypatch, "--help")
    assert (code, err) == (0, "")
    assert out.startswith("Usage: cadence-coach example [OPTIONS] ")
    assert "Example: cadence-coach example 3" in out
    assert "\x1b" not in out
    assert "\u2500" not in out  # no frames
    assert not set("<>{}") & set(out)  # no notation of types


def test_a_reader_that_leaves_is_no_error() -> None:
    program = (
        "from cadence_coach import cli; cli._dispatch = lambda argv: print('x\\n' * 200_000) or 0; cli.main(['x'])"
    )
    coach = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert coach.stdout is not None
    assert coach.stderr is not None
    os.read(coach.stdout.fileno(), 10)
    coach.stdout.close()
    assert coach.stderr.read() == b""
    assert coach.wait(20) == 141


def test_python_m_is_the_same() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "cadence_coach", "--help"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert done.stdout == cli.overview() + "\n"


@pytest.mark.parametrize("name", list(cli.COMMANDS))
def test_every_command_is_there_with_an_example(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run([name, "--help"]) == 0
    out = capsys.readouterr().out
    assert out.startswith(f"Usage: cadence-coach {name}")
    assert f"cadence-coach {name}" in out.partition("\n")[2], "the docstring needs an example"


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_a_terminal_with_fewer_characters_shows_a_question_mark(encoding: str) -> None:
    """Of a minus sign that is none of its own, of a name in Greek, and of half a surrogate pair."""
    program = (
        "import sys; from cadence_coach import cli\n"
        "def talk(argv): print('a \\u2212 \\u03b1 \\udcfc z'); raise cli.Refused('b \\u2212 z')\n"
        "cli._dispatch = talk; sys.exit(cli.run([]))"
    )
    command = [sys.executable, "-c", program]
    env = os.environ | {"PYTHONIOENCODING": encoding}
    done = subprocess.run(command, capture_output=True, env=env, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (2, b"a ? ? ? z\n", b"cadence-coach: b ? z\n")


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
@pytest.mark.parametrize(("asked", "code"), [("--help", 0), ("nonsense", 2), ("season", 0), ("season missing", 2)])
def test_closed_output_is_no_trouble(closed: str, asked: str, code: int, tmp_path: Path) -> None:
    env = os.environ | {"CADENCE_COACH_HOME": str(tmp_path)}
    line = f"exec {sys.executable} -m cadence_coach {asked} {closed}"
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, env=env, check=False)
    assert done.returncode == code and "Traceback" not in done.stdout + done.stderr
    if closed == ">&-":
        assert done.stderr.count("\n") == (code == 2)
