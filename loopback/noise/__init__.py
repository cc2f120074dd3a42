"""Noise of the silence: density, weighting, levels, mains.

Conventions: densities are one-sided, in full scale squared per hertz, so that a sine whose peak
reaches full scale has a power of 1/2; levels are dBFS with that sine at 0 (AES17-2015, clause 5);
"the band" is 20 Hz to 20 kHz.
"""
