"""Several runs side by side on one page."""
