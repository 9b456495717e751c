"""Pages and charts made from a run."""
