"""Instruments that answer; may import values, measuring and the files of a case."""
