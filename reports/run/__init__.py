"""The report of a run: facts first, then words and charts, then the page."""
