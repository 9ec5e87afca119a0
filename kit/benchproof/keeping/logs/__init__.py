"""Append-only files of rows; may import values and measuring."""
