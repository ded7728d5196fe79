"""Cadence coach for leg-pumped hydrofoil boards: hears every pump, answers with sound only."""

__version__ = "0.1.0"
