"""Figures that can be repeated: `python -m tests.benchmarks`."""
