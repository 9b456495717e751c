"""What does the real machine say? From a log of the test stand to coefficients."""
