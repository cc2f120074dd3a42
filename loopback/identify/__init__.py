"""From responses to circuit values: this setup first, then what a pedal leaves on the line.

Conventions: admittances in siemens and impedances in ohms at the pedal's node, that is, between the
tips where the coupler or the pedal sits. The reference runs contain the coupler, so the measured
load admittance contains its capacitance, and a pedal's own capacitance is the fitted difference
plus that of the coupler. Every uncertainty is a standard uncertainty that already holds noise and
all priors of `loopback.identify.priors` (JCGM 100:2008, first-order propagation).
"""
