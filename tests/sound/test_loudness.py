"""A-weighting against the standard's table and a general library."""

from __future__ import annotations

import numpy as np
import pytest

from cadence_coach.sound.loudness import HEARING_LINE, a_weighting_db, level_db

HALF_DIGIT_DB = 0.05
TABLE = {63: -26.2, 125: -16.1, 250: -8.6, 500: -3.2, 1000: 0.0, 2000: 1.2, 4000: 1.0, 8000: -1.1}
"""IEC 61672-1, table of A-weightings (from memory), which holds at the exact centres 1000 * 10^(n/10)."""


@pytest.mark.parametrize(("nominal", "db"), TABLE.items())
def test_a_weighting_at_exact_centres(nominal, db):
    exact = 1000 * 10 ** (round(10 * np.log10(nominal / 1000)) / 10)
    assert float(a_weighting_db(exact)) == pytest.approx(db, abs=HALF_DIGIT_DB)


def test_a_weighting_beside_librosa():
    """Independent reference: librosa.A_weighting (a general library for sound), 20 Hz to 20 kHz."""
    librosa = pytest.importorskip(
        "librosa", reason="LOUD: librosa is not installed, A-weighting judged by the table alone"
    )
    hz = np.geomspace(20, 20000, 200)
    assert a_weighting_db(hz) == pytest.approx(librosa.A_weighting(hz, min_db=None), abs=0.01)


def test_level_of_a_steady_tone():
    """A sine of amplitude 1 at 1 kHz is -3.01 dB; at 63 Hz it loses what the table says."""
    t = np.arange(48000) / 48000
    soft = np.minimum(1, np.minimum(t, t[::-1]) / 0.2)  # a sudden end would be louder than a 63 Hz tone itself
    assert level_db(soft * np.sin(2 * np.pi * 1000 * t), 48000) == pytest.approx(-3.01, abs=0.05)
    low = 1000 * 10 ** (-12 / 10)
    assert level_db(soft * np.sin(2 * np.pi * low * t), 48000) == pytest.approx(-3.01 - 26.2, abs=0.1)
    assert level_db(np.zeros(4800), 48000) == -np.inf


def test_the_hearing_line_names_its_source():
    for fact in ("ITU-T H.870", "80 dB(A)", "40 hours a week"):
        assert fact in HEARING_LINE
