"""Taking out of a photo what it says beside its pixels: place, time, camera, owner, texts, further pictures.

Pixels are never encoded again. What tells how they are to be read stays: colour profile, orientation, and
whether they are sRGB. One file a format; `without_metadata` chooses.
"""
