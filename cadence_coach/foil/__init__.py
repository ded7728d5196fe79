"""Foil and rider physics: water, drag, pumping, band, endurance. Standard library and numpy; knows no sensor and no
file but a profile."""
