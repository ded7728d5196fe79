"""What `import` does with another logger's CSV: made into a recording, with questions where in doubt."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cadence_coach.store.generic_csv import Question


def pairs(option: str, text: str | None) -> dict[str, str]:
    """`a=b,c=d` as a dict. Raises Refused."""
    from cadence_coach.errors import Refused

    found = {}
    for part in (text or "").split(","):
        key, equals, value = part.partition("=")
        if part.strip() and not (equals and key.strip() and value.strip()):
            raise Refused(f"--{option} {text}: write it as NAME=VALUE,NAME=VALUE")
        if part.strip():
            found[key.strip()] = value.strip()
    return found


@contextmanager
def ours(spec: str, columns: dict[str, str], units: dict[str, str], bar: Any) -> Iterator[str]:
    """The recording's path: `spec` itself, or one made of another logger's CSV, there until the end of the block."""
    import sys
    from tempfile import TemporaryDirectory

    from cadence_coach.store import generic_csv

    path = Path(spec)
    foreign = path.is_file() and path.suffix.lower() in (".csv", ".txt", ".tsv") and not generic_csv.is_ours(path)
    if not foreign:
        yield spec
        return

    def ask(question: Question) -> str:
        bar.stop()
        try:
            print(question.text, file=sys.stderr)
            answer = input(f"[{', '.join(question.choices)}] ")
        except EOFError:
            return generic_csv.refuse(question)
        finally:
            bar.start()
        return answer.strip()

    with TemporaryDirectory(prefix="coach-") as room:
        asking = ask if sys.stdin.isatty() else generic_csv.refuse
        made, said = generic_csv.to_recording(path, Path(room) / path.stem, asking, columns, units)
        print(f"{spec}: " + "; ".join(said))
        yield str(made)
