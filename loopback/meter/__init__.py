"""A live meter: capacitance and leakage of whatever is plugged, a reading every half a second.

Conventions: a reading is what lies across the line beyond what was there at zero, which is taken on
the coupler through the resistor lead. Values are standard estimates in farads and siemens; what is
shown covers 95 %.
"""
