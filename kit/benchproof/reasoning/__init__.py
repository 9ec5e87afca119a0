"""Floor 2, what follows from it (pure): may import values and measuring."""
