"""Quick entry at the bench: what is typed, and what it adds to the logs.

May import values, measuring, reasoning and keeping.
"""
