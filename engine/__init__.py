"""Maths, search and files of swirlstack."""

__version__ = "0.1.0"
