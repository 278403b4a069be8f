"""Synthetic phone photos with known truth, rendered in spectra: test support, not shipped.

A scene (`scenes.scene.Scene`) says everything about one photo; `scenes.render.render` makes the photo and
its truth; `scenes.scenarios` draws realistic scenes by seed and spoils them on purpose.
Light, dyes and camera are 31 spectral bands; nothing below the phone's own processing is done in RGB.
"""
