"""Suffice: is it enough, why not, what next, and who else must know?

A lactation consultant's working tool. See docs/architecture.md for the rooms of the house and the
one direction in which they import each other.
"""
