"""How much of the program the tests run, branches counted, processes that they start too.

    python -m tests.covered            the whole suite in its short form: table by room, then what was missed
    python -m tests.covered tests/store -k writer      the rest goes to pytest; only a whole run is judged

A process that is killed outright (as tests do) leaves no count, the phone's Python inside a JVM neither: the true share
is a little higher.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

PROJECT = Path(__file__).parent.parent
PACKAGE = PROJECT / "cadence_coach"
LEAST = {"core": 95.0, "foil": 95.0, "store": 95.0, "whole": 85.0}
"""Per cent of statements and branches."""

SETTINGS = """
[run]
branch = true
parallel = true
sigterm = true
patch = subprocess
source_pkgs = cadence_coach
data_file = {data}
[paths]
all =
    {package}
    */cadence_coach
[report]
skip_covered = true
ignore_errors = true
precision = 1
"""


def main() -> int:
    with tempfile.TemporaryDirectory() as room:
        rc = Path(room) / "rc"
        rc.write_text(SETTINGS.format(data=Path(room) / "data", package=PACKAGE), "utf-8")
        env = {k: v for k, v in os.environ.items() if k != "CADENCE_COACH_LONG"}

        def coverage(*arguments: str, **how: object) -> subprocess.CompletedProcess[str]:
            command = [sys.executable, "-m", "coverage", arguments[0], f"--rcfile={rc}", *arguments[1:]]
            return subprocess.run(command, cwd=PROJECT, env=env, text=True, check=False, **how)  # type: ignore[call-overload]

        asked = sys.argv[1:]
        tests = coverage("run", "-m", "pytest", "-p", "no:cacheprovider", *(asked or ["-n", "2", "--dist", "loadfile"]))
        coverage("combine", "-q", stderr=subprocess.DEVNULL)
        coverage("report", "-m", f"--include={PACKAGE}/*", stderr=subprocess.DEVNULL)
        low = []
        for name in [*sorted(p.name for p in PACKAGE.iterdir() if p.is_dir() and p.name[0] != "_"), "whole"]:
            files = f"{PACKAGE}/*" if name == "whole" else f"{PACKAGE}/{name}/*"
            how = {"stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
            share = coverage("report", "--format=total", f"--include={files}", **how).stdout.strip() or "0"
            least = LEAST.get(name)
            print(f"{name:10} {share:>5} %" + (f"  at least {least:g}" if least else ""))
            if least and float(share) < least:
                low.append(name)
        if low and not asked:
            print(f"too little of {', '.join(low)} is tested")
        return tests.returncode or (1 if low and not asked else 0)


if __name__ == "__main__":
    sys.exit(main())
