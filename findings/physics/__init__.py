"""Computations of the trade in SI units, free of any framework, clock or database."""
