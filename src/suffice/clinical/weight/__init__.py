"""Weights of one infant: change, gain, noise, what to doubt."""
