"""Linear circuits: two-ports, element lists, and the nodal solver.

Conventions of the whole package:

- Responses are complex ratios for ``exp(+jωt)``; frequencies in hertz, zero allowed.
- Chain matrix: ``V1 = A V2 + B I2`` and ``I1 = C V2 + D I2``, with I1 into the first port and I2
  out of the second, so that a cascade is the matrix product in signal order (Pozar, *Microwave
  Engineering*, ch. 4). Arrays of them have shape ``(k, 2, 2)``, one per frequency.
- Node ``0`` is ground. ``IN`` and ``OUT`` are the tips of the two jacks of a pedal.
- Values as people write them: ``M`` is mega and ``m`` is milli (unlike most circuit simulators).
"""
