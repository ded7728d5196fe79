"""The table of dependencies in DEVELOPERS.md, held against pyproject.toml and what is installed.

    python -m tests.dependencies        asks the package index for last releases and prints the table as it should be

The index is the one pip is set up for. `rows()` reads the table; tests/test_dependencies.py judges it.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
import tomllib
import urllib.request
from datetime import date
from pathlib import Path

import attrs
from packaging.requirements import Requirement

PROJECT = Path(__file__).parent.parent
HEAD = "| name | for | licence | last release | why this one |"
GOOD_YEARS = 4.0
"""A library without a release for longer is looked at: replaced, or its row says "quiet" and why that does no harm."""

FAMILIES = {
    "MIT": r"\bMIT\b",
    "BSD": r"\bBSD\b|0BSD|BSD-\d",
    "Apache": r"Apache",
    "PSF": r"Python Software Foundation|PSF|matplotlib",
    "ISC": r"\bISCL?\b",
    "MPL": r"\bMPL|Mozilla",
    "LGPL": r"LGPL|Lesser General Public",
    "GPL": r"(?<!L)GPL|(?<!Lesser )General Public",
}


@attrs.frozen
class Row:
    name: str
    use: str
    licence: str
    released: date
    why: str


def asked(everywhere: bool = True) -> dict[str, str]:
    """Each direct dependency of pyproject.toml -> "run", or the extra that brings it; or those of this machine alone
    (the rest have no wheel for it)."""
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text("utf-8"))["project"]
    found: dict[str, str] = {}
    for use, wanted in {"run": project["dependencies"], **project["optional-dependencies"]}.items():
        for requirement in wanted:
            one = Requirement(requirement)
            if one.name != project["name"] and (everywhere or one.marker is None or one.marker.evaluate()):
                found.setdefault(one.name.lower().replace("_", "-"), use)
    return found


def rows() -> list[Row]:
    """The table as DEVELOPERS.md has it."""
    text = (PROJECT / "DEVELOPERS.md").read_text("utf-8")
    table = text.split(HEAD)[1].split("\n\n")[0].strip().splitlines()[1:]
    cells = [[c.strip() for c in line.strip("|").split("|")] for line in table]
    return [Row(name, use, licence, date.fromisoformat(day), why) for name, use, licence, day, why in cells]


def licence(name: str) -> str:
    """In words, from the installed metadata: its expression, else its classifier, else the first line of its text, or
    of the file that it names."""
    found = importlib.metadata.metadata(name)
    classes = [c.split(" :: ")[-1] for c in found.get_all("Classifier") or [] if c.startswith("License ::")]
    text = (found.get("License") or "").strip().splitlines()
    if not (classes or text) and (file := found.get("License-File")):
        text = (importlib.metadata.distribution(name).read_text(f"licenses/{file}") or "").strip().splitlines()
    return found.get("License-Expression") or (classes or text or ["unknown"])[0]


def families(words: str) -> set[str]:
    return {name for name, pattern in FAMILIES.items() if re.search(pattern, words)}


def last_release(name: str) -> date:
    """By the package index that pip uses (simple API with upload times, PEP 700); OSError without a network."""
    from pip._internal.configuration import Configuration
    from pip._internal.models.index import PyPI

    settings = Configuration(isolated=False)
    settings.load()
    index = dict(settings.items()).get("global.index-url", PyPI.simple_url)
    wanted = {"Accept": "application/vnd.pypi.simple.v1+json"}
    request = urllib.request.Request(f"{str(index).rstrip('/')}/{name}/", headers=wanted)
    with urllib.request.urlopen(request, timeout=30) as answer:
        files = json.load(answer)["files"]
    return date.fromisoformat(max(f["upload-time"] for f in files if not f.get("yanked"))[:10])


def main() -> None:
    known = {row.name: row.why for row in rows()}
    print(f"{HEAD}\n|---|---|---|---|---|")
    for name, use in asked().items():
        print(f"| {name} | {use} | {licence(name)} | {last_release(name)} | {known.get(name, 'WHY?')} |", flush=True)


if __name__ == "__main__":
    main()
