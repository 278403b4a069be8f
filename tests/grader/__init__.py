"""Training and evaluation of the grader: made pieces in, a file of readable numbers and tables out."""
