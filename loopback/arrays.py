"""Array types used everywhere, in one place.

Conventions of the whole package: time in seconds from the first sample of a take, frequencies in
hertz on one-sided grids, responses as complex amplitude ratios with the sign of ``exp(+jωt)``
(a delay ``d`` is ``exp(-jωd)``), sample values as a fraction of full scale, and 0 dBFS as a sine
whose peak just reaches full scale (AES17).
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

F64: TypeAlias = NDArray[np.float64]
"""Real array, double precision."""

C128: TypeAlias = NDArray[np.complex128]
"""Complex array, double precision."""
