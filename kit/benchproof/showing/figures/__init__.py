"""Drawings of what a case found; may import every lower floor, no page."""
