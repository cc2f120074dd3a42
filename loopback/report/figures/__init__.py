"""Pictures, one file each, drawn from plain records of curves; the only place that uses matplotlib.

Conventions: level over logarithmic frequency in the aspect ratios of IEC 60263:2020, 4.1 (one
decade as long as 10, 20, 25 or 50 dB), axes fixed so that pictures of different pedals can be laid
side by side, quantity and unit on every axis, names written beside the curves.
"""
