"""Runs, rounds, cases or people side by side; may import runs and checking."""
