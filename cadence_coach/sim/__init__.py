"""A simulated rider on a simulated foil: recordings with exact truth. Nothing the coach decides may import it."""
