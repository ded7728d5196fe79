"""Cadence coach for leg-pumped hydrofoil boards: hears every pump, answers with sound only."""

__version__ = "0.1.0"

VERSIONS = {"detector": "11", "coach": "2", "model": "1"}
"""Of what events, cues and bands come from: raise one when its results for the same input change. Files carry them."""
