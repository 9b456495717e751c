"""What a bench log told: the fit file and its page.

`make` goes from study and log to both. How a fit decides stands in `engine.bench`.
"""
