"""What a bench log told: the fit file and its page."""
