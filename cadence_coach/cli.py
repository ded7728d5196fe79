"""The command line: a table of commands, of which only the one asked for is imported, and how a command ends.

Exit codes: 0 done, 1 could not, 2 asked wrongly, 130 interrupted, 141 when the reader of a pipe has gone. An error is
one line on stderr. The list of commands is printed from the table, without typer: `--help` must be there at once.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import sys
from importlib import import_module
from importlib.util import find_spec

from cadence_coach import __version__
from cadence_coach.errors import CouldNot, Refused

PROGRAM = "cadence-coach"

COMMANDS = {
    "demo": "a simulated outing, start to end: flights beside the truth, and what the rider would have heard",
    "live": "be the coach, from a phone, a recording or a simulated rider",
    "land": "train the rhythm on dry land",
    "replay": "find pumps, attempts and flights in recordings",
    "review": "look back on one outing: figures, report, one thing to work on",
    "season": "many outings side by side",
    "ladder": "the practice ladder: where you stand and what comes next",
    "band": "cadence, push and effort that suit a rider and a foil at each speed",
    "simulate": "make recordings of simulated riders, with exact truth",
    "import": "turn recordings into outing files",
    "export": "write an outing as CSV, JSON, GPX or text",
    "restudy": "go through many outings again with today's detector, on all cores",
    "app": "the screens: set up, ride, look back; in a window, or on a phone",
    "check": "what this machine can do: audio, sensors, screen",
}
"""Name to one line of help. The module is commands/NAME.py, its function NAME (import_ for a word Python keeps)."""


PLAINER = (
    (r"^Invalid value for '(\S+?)'", r"\1"),
    (r"Input should be a valid integer.*", "must be a whole number"),
    (r"Input should be a valid number.*", "must be a number"),
    (r"Input should be greater than or equal to (\S+)", r"must be \1 or more"),
    (r"Input should be less than or equal to (\S+)", r"must be \1 or less"),
    (r"^Got unexpected extra argument(s|\(s\))? \((.*)\)", r"\2: nothing more is asked for"),
    (r"^Missing argument '(\S+)'", r"\1 is missing"),
    (r"^No such option: (\S+)", r"no option \1"),
    (r"^Option '(\S+)' requires an argument", r"\1 is given without what belongs to it"),
)
"""How some versions of typer say it, and how a person would."""


def main(argv: list[str] | None = None) -> None:
    """Runs one command line and exits."""
    sys.exit(run(sys.argv[1:] if argv is None else argv))


def run(argv: list[str]) -> int:
    """Runs one command line; the exit code."""
    _printable()
    try:
        code = _dispatch(argv)
        sys.stdout.flush()
        return code
    except (Refused, CouldNot) as error:
        return _complain(str(error), error.exit_code)
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] in ("", __package__):
            raise  # a mistake of ours
        return _complain(
            f"{error.name} is not installed for {sys.executable}; install the project, as README has it", 1
        )
    except KeyboardInterrupt:
        return _complain("interrupted", 130)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # or Python complains once more when it closes stdout
        return 141
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        return _complain(f"{place}{error.strerror or error}; check the path, your rights to it and the space left", 1)


def _printable() -> None:
    """Somebody's terminal knows fewer characters than names and texts have: a question mark there, no end. Output that
    was closed goes nowhere; left closed, the next file that is opened would be taken for it."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 (open until the end)
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _dispatch(argv: list[str]) -> int:
    if not argv or argv[0] in ("--help", "-h", "help"):
        print(overview())
        return 0
    if argv[0] == "--version":
        print(f"{PROGRAM} {__version__}")
        return 0
    name = argv[0]
    if name.startswith("-"):
        near = _nearest(name, ["--help", "--version"])
        if not near:
            raise Refused(f"{name}: options come after the command, {PROGRAM} COMMAND {name} ...; see {PROGRAM} --help")
        raise Refused(f"no option {name!r}{near}; see {PROGRAM} --help")
    if name not in COMMANDS:
        raise Refused(f"no command {name!r}{_nearest(name, [*COMMANDS, '--help'])}; see {PROGRAM} --help")
    module = f"{__package__}.commands.{name}" + ("_" if name == "import" else "")
    if find_spec(module) is None:
        raise CouldNot(f"{name} is not in this version; see {PROGRAM} --help")
    return _call(getattr(import_module(module), module.rpartition(".")[2]), name, argv[1:])


def _call(function: object, name: str, argv: list[str]) -> int:
    """One command with its arguments, through typer; plain help, no traceback dressing."""
    import typer

    usage_error = typer.BadParameter.__bases__[0]  # where it is defined differs from version to version
    app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    app.command(name, context_settings={"help_option_names": ["--help", "-h"]})(function)  # type: ignore[type-var]
    asks_help = bool({"--help", "-h"} & set(argv))
    told = io.StringIO()
    try:
        with contextlib.redirect_stdout(told) if asks_help else contextlib.nullcontext():
            code = app(argv, prog_name=f"{PROGRAM} {name}", standalone_mode=False)
    except usage_error as error:
        raise Refused(f"{_one_line(error)}; see {PROGRAM} {name} --help") from error
    except typer.Abort:
        raise KeyboardInterrupt from None
    except typer.Exit as leave:
        code = leave.exit_code
    if asks_help:
        print(_plain_help(told.getvalue()), end="")
    if code == 130:  # how some versions of typer pass it on
        raise KeyboardInterrupt
    return code if isinstance(code, int) else 0


def _plain_help(text: str) -> str:
    """Typer's help without its notation of types and ranges; what stands in columns stays there."""
    text = re.sub(r" <(?:list\[)?\w+\]?>", lambda found: " " * len(found[0]), text)
    text = re.sub(r"\{([A-Z.a-z]+)\}", r"\1", text)
    text = re.sub(r"; x>=\d+\]", "]", re.sub(r" +\[x>=\d+\]", "", text))
    return re.sub(r"; (\d+)<=x<=(\d+)\]", r"; \1 to \2]", text)


def overview() -> str:
    """The help of the whole: what it is, how to begin, every command in one line."""
    width = max(map(len, COMMANDS))
    return "\n".join(
        [
            f"Usage: {PROGRAM} COMMAND ... | {PROGRAM} COMMAND --help | {PROGRAM} --version",
            "",
            "Hears every pump of a leg-pumped hydrofoil board and answers with sound only.",
            "",
            *(f"  {name:<{width}}  {line}" for name, line in COMMANDS.items()),
            "",
            f"Begin with: {PROGRAM} demo",
        ]
    )


def _nearest(name: str, there: list[str]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, there, 1)
    return f", did you mean {near[0]!r}?" if near else ""


def _one_line(error: Exception) -> str:
    text = error.format_message() if hasattr(error, "format_message") else str(error)
    text = " ".join(text.split()).rstrip(".")
    for pattern, plain in PLAINER:
        text = re.sub(pattern, plain, text)
    return text


def _complain(text: str, code: int) -> int:
    print(f"{PROGRAM}: {' '.join(text.split())}", file=sys.stderr)
    return code
