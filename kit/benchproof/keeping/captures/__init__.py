"""Captures as files: reading them in, and the index; may import lower floors."""
