"""Floor 3, the only one that touches disk and clock: may import floors 0-2."""
