"""The turbine's physics: arrays in, arrays out."""
