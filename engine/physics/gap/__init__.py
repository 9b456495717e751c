"""The flow between two discs, averaged across the gap or resolved across it."""
