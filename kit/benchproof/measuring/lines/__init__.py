"""Straight lines through points; may import values and measuring."""
