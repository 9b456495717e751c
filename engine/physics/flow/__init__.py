"""The way of the flow: nozzles, ring around the discs, leakage, exhaust, and where they match."""
