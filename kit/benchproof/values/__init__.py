"""Floor 0, plain values: imports nothing of benchproof above itself."""
