"""The machine: stress, waves, shaft, bearings, tolerances, drive and generator."""
