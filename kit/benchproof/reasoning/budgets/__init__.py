"""Formulas, and where their uncertainty comes from; may import values and measuring."""
