"""The charts of a run's report, one a module."""
