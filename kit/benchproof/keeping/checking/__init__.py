"""Room of floor 3, checking: may import values, measuring, reasoning and keeping.

What a stranger can find out about a case or a bundle: hashes, the log against the
results, numbers computed again without running anything, and a fresh run if asked.
"""
