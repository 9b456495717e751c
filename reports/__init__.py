"""Pages and charts made from a finished run."""
