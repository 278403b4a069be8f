"""Tests of the house rules: they read the source tree."""
