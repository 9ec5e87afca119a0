"""Floor 3, the only floor that touches the disk and the clock: may import floors 0-2."""
