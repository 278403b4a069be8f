"""Faults of a pressed piece, each looked for on its own."""
