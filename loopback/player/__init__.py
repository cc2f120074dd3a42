"""What a player hears: a pickup, leads, the measured pedals, an amplifier.

Conventions: levels in decibels over the pickup's own EMF unless said to be a change; a change is
with the pedals against the same leads joined without them. The two pickups are examples of their
kind, not of a make, and leads are a capacitance each.
"""
