"""The press log: presses, blanks, recipes and pressings of one shop, as plain values and row functions."""
