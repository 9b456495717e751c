"""What does one build give? Builds in, results out; `evaluation` alone knows the order."""
