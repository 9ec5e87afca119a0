"""Drawings of captures; may import figures and every lower floor, no page."""
