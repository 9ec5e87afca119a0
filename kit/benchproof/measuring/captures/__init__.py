"""Captures, an oscilloscope's records; may import values and measuring."""
