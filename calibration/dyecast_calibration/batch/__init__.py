"""The statistics of a batch: its charts, what their signals mean, and how many pieces to look at."""
