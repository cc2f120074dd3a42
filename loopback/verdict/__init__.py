"""From identified values to the answer: path, without power, size; and the sentences.

Conventions: levels in decibels of the pedal run over its reference; intervals cover 95 %; a
certainty is a probability of conformity (JCGM 106:2012), computed from the intervals.
"""
