"""The report in a real browser: nothing wider than a phone, nothing fetched, pictures there, dark and print."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from cadence_coach.review.figures import look
from cadence_coach.review.report import report_html
from cadence_coach.review.season import season
from cadence_coach.review.season_page import season_html
from tests.review.build import Plan, make, table
from tests.review.test_outing import flies
from tests.review.test_season import flight, row

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)

MEASURE = """<script>
const wide = [...document.querySelectorAll('body *')].filter(e => !e.closest('.scroll') && !e.closest('svg')
  && e.getBoundingClientRect().right > innerWidth + 1).length;
const cut = [...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth + 1).length;
const shown = [...document.querySelectorAll('svg')].filter(e => e.getBoundingClientRect().width > 100).length;
parent.document.title = [document.documentElement.scrollWidth, innerWidth, wide, cut, shown,
  getComputedStyle(document.body).backgroundColor].join('|');
</script>"""

pytestmark = pytest.mark.skipif(
    CHROMIUM is None, reason="NOT RUN: no chromium on this machine; install it to see the pages"
)


def pages():
    tries = flies([12, 40, 2, 30, 0], speed=4.5, share=0.5, height=0.4)
    name = "A very long name of a rider who has several names (invented)"
    profile = {"rider": {"name": name}, "foil": {"name": "Foil" * 12}, "water": {"kind": "sea"}}
    notes = [("Ida (invented)", None, "x" * 120), ("Ida (invented)", 60.0, "Longer legs here.")]
    plan = Plan(tries, cues=[(tries[1].start + 12, "slower_bigger")], notes=notes, profile=profile, place=(47.0, 8.0))
    rows = [row(3 * n, best=20.0 + n, foil="Foil" * 12, flights=[flight(20 + 9 * n, 300.0 - 9 * n)]) for n in range(9)]
    return {
        "report": report_html(look(make(plan), table())),
        "empty": report_html(look(make(Plan(length=0.0)), table())),
        "season": season_html(season(rows)),
    }


def measured(page, folder, width, *flags):
    """(scroll width, inner width, elements too wide, tables that must be scrolled, pictures shown, ground) in a frame
    of that width: a window itself cannot be as narrow as a phone."""
    inner = (page + MEASURE).replace("&", "&amp;").replace('"', "&quot;")
    outer = f'<body style="margin:0"><iframe style="border:0;width:{width}px;height:900px" srcdoc="{inner}"></iframe>'
    path = folder / "outer.html"
    path.write_text(outer, encoding="utf-8")
    command = [CHROMIUM, *FLAGS, f"--user-data-dir={folder / 'user'}", *flags, "--dump-dom", path.as_uri()]
    dom = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
    found = re.search(r"<title>([^<]*)</title>", dom).group(1).split("|")
    return [int(v) for v in found[:5]] + found[5:]


@pytest.mark.parametrize("name", ["report", "empty", "season"])
def test_nothing_is_wider_than_a_phone(name, tmp_path):
    scroll, inner, wide, cut, shown, _ = measured(pages()[name], tmp_path, 390)
    assert inner == 390 and scroll <= 390 and wide == 0
    assert cut == 0  # a foil's long name folds
    assert shown >= {"report": 4, "empty": 0, "season": 6}[name]


def test_desktop_and_dark(tmp_path):
    page = pages()["report"]
    _, _, wide, _, shown, light = measured(page, tmp_path, 1200)
    assert wide == 0 and shown >= 4
    dark = measured(page, tmp_path, 1200, "--force-dark-mode")[5]
    assert light == "rgb(250, 248, 243)" and dark != light


def test_prints(tmp_path):
    path, out = tmp_path / "page.html", tmp_path / "page.pdf"
    path.write_text(pages()["report"], encoding="utf-8")
    command = [
        CHROMIUM,
        *FLAGS,
        f"--user-data-dir={tmp_path / 'user'}",
        "--no-pdf-header-footer",
        f"--print-to-pdf={out}",
        path.as_uri(),
    ]
    subprocess.run(command, capture_output=True, timeout=120, check=True)
    body = out.read_bytes()
    assert body.startswith(b"%PDF") and 1 <= len(re.findall(rb"/Type\s*/Page\b", body)) <= 8
