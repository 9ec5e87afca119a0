"""Provocation trials: plans, trials.csv, rates; may import values to reasoning."""
