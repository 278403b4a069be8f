"""Figures for dyecast and its rivals on photos whose truth is known."""
