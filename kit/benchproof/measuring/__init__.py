"""Floor 1, what an instrument said and how far to trust it: may import values."""
