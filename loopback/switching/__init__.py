"""What the footswitch puts on the line, and what tapping shows.

Conventions: amplitudes are volts at the interface's input where its full-scale level is known, else
fractions of full scale (unit ``"V"`` or ``"FS"``); levels are dBV, or dBFS with a full-scale sine
at 0; "the band" is 20 Hz to 20 kHz; times count from the first sample of a recording. Lit is the
direction towards the effect, dark the one towards bypass.
"""
