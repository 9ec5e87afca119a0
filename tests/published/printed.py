"""Tolerances of figures as they are printed."""


def half_a_digit(decimals):
    """Tolerance of a figure printed with so many decimals."""
    return 0.5001 * 10.0**-decimals
