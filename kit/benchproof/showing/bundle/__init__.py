"""Room of floor 4, bundle: may import every floor below, and showing.

One file with everything a stranger needs to check a case and to run it again, and with
nothing that tells of the machine it was made on.
"""
