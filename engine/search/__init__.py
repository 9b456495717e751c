"""Which builds next? It knows no physics and no files."""
