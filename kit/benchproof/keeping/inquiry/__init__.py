"""What a case argues: predictions, limits, next steps, objections, replications.

May import values, measuring, reasoning and keeping.
"""
