"""The version of the model, and what moved the numbers of a study."""

MODEL_VERSION = 6
"""Raised whenever the same study gives other numbers."""
