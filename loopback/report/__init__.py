"""What is read: the result on a screen, the facts for machines, the pictures.

Nothing is measured or decided here, only brought into the unit in which it is written or drawn.

Conventions: every text is written with the proper signs (Ω, ±, µ) and turned into plain ones at
the last moment, before lines are broken; a number after ± covers 95 %; levels are in decibels
against the cable, noise levels against a full-scale sine.
"""
