"""Runs of a notebook and what they leave; may import anything of keeping."""
