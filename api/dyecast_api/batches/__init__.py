"""Watching a batch: its first piece approved, others inspected, charts, and a certificate at the end.

Rows are read and written by pure functions over a connection (`batch_rows`, `batch_steps`, `batch_pieces`);
charts and certificate are made from values alone.
"""
