"""What happens to a photo between its arrival and its result.

A photo is kept on disk and its inspection's row committed before anything is answered (`accept_photo`).
That row is its place in the queue (`queue`); workers take it for a while, inspect (`inspect_claimed`) and
write the result into the same row. Nothing else knows about waiting photos, so nothing can be lost between
two places.
"""
