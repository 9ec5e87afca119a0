"""Distributions through formulas; may import values, measuring and budgets."""
