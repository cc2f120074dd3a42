"""Zero, and one reading against it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from loopback.identify.learned import SetupLearned
from loopback.identify.priors import DEFAULT_PRIORS
from loopback.identify.setup import SetupFound, find_setup
from loopback.identify.shunt import closed_form_shunt
from loopback.meter.listen import Heard, single
from loopback.plan.runs import RunLabel
from loopback.quantity import Estimate
from loopback.response.ratio import GAIN_U_DB, ratio_to_reference
from loopback.response.reading import RunResponse

NOTHING_DB = -40.0
"""Further down than this against zero, nothing passes: a short, or a break in the line."""
_INPUT_U = 0.02
_LOW_HZ, _HIGH_HZ = 200.0, 2000.0


@dataclass(frozen=True, slots=True)
class Zero:
    """What the line is with nothing plugged but the coupler.

    Parameters
    ----------
    resistor : RunResponse
        Through the resistor lead.
    setup : SetupFound
        Of this line.
    learned : SetupLearned or None
        How steady gain and plugs of this setup are; None: as common practice has it.
    """

    resistor: RunResponse
    setup: SetupFound
    learned: SetupLearned | None = None

    @property
    def scale_u(self) -> float:
        """Relative standard uncertainty of all readings in common."""
        return self.setup.u_scale


@dataclass(frozen=True, slots=True)
class Reading:
    """What lies across the line now.

    Parameters
    ----------
    at_s : float
        Time since zero, seconds.
    c_farad, g_siemens : Estimate or None
        Against zero; None where nothing passes.
    level_db : float
        Level against zero, 200 Hz to 2 kHz.
    clipped : bool
        The input was overloaded.
    """

    at_s: float
    c_farad: Estimate | None
    g_siemens: Estimate | None
    level_db: float
    clipped: bool

    @property
    def passes(self) -> bool:
        """Whether enough came through to read anything."""
        return self.c_farad is not None


def find_zero(
    resistor: RunResponse,
    plain: RunResponse | None,
    resistor_ohm: float,
    tolerance: float,
    input_ohm: float | None = None,
    learned: SetupLearned | None = None,
) -> Zero | None:
    """Take zero.

    Parameters
    ----------
    resistor : RunResponse
        Coupler, resistor lead.
    plain : RunResponse or None
        Coupler, plain lead: it fixes the scale. None: the load of the input is a prior, and all
        readings have a common doubt of about a tenth.
    resistor_ohm, tolerance : float
        Of the resistor.
    input_ohm : float or None
        Input resistance of the interface from an earlier setup or its data sheet, believed to 2 %;
        of use without `plain`.
    learned : SetupLearned or None
        From earlier references of this setup; None: there are none.

    Returns
    -------
    Zero or None
        None when nothing was heard.
    """
    if 20 * math.log10(max(_level(resistor), 1e-12)) < -80.0:
        return None
    label = RunLabel("coupler", "resistor", resistor_ohm=resistor_ohm, resistor_tolerance=tolerance)
    references = [(label, resistor)]
    if plain is not None:
        references.append((RunLabel("coupler", "plain"), plain))
    priors = DEFAULT_PRIORS
    if input_ohm is not None:
        g = 1 / input_ohm
        priors = replace(priors, load_siemens=g, load_u_siemens=_INPUT_U * g)
    setup = find_setup(references, priors=priors)
    return None if setup is None else Zero(resistor, setup, learned)


def read(heard: Heard, zero: Zero, at_s: float, *, in_place: bool = False) -> Reading:
    """Read one sweep against zero.

    Parameters
    ----------
    heard : Heard
        The sweep.
    zero : Zero
        See there.
    at_s : float
        When, seconds since zero.
    in_place : bool
        True: it stands in the place of the coupler, as a pedal does, whose own capacitance is
        then added.

    Returns
    -------
    Reading
        See there.
    """
    response = single(heard, zero.resistor, "now")
    level = 20 * math.log10(max(_level(response) / _level(zero.resistor), 1e-12))
    if level < NOTHING_DB:
        return Reading(at_s, None, None, level, heard.clipped)
    gain_u_db, priors = GAIN_U_DB, DEFAULT_PRIORS
    if (learned := zero.learned) is not None:
        gain_u_db = math.hypot(learned.gain_u_db, learned.walk_u_db)
        priors = replace(
            priors, mating_u_farad=learned.mating_u_farad, shape_u_db=learned.shape_u_db
        )
    ratio = ratio_to_reference(response, [zero.resistor], gain_u_db=gain_u_db)
    shunt = closed_form_shunt(ratio, zero.setup, priors=priors)
    against_zero = shunt.difference
    c = shunt.c_farad if in_place or against_zero is None else against_zero
    return Reading(at_s, c, shunt.g_siemens, level, heard.clipped)


def floor_farad(zero: Zero) -> float:
    """Half of the 95 % interval of a reading of nothing, farads.

    Parameters
    ----------
    zero : Zero
        See there.

    Returns
    -------
    float
        Farads: drift of the gain on the setup capacitance, and the scatter of plugs.
    """
    same = Heard(zero.resistor.h, 0.0, 0.0)
    c = read(same, zero, 0.0).c_farad
    return c.half_width() if c is not None else DEFAULT_PRIORS.node_u_farad


def _level(response: RunResponse) -> float:
    use = (response.f_hz >= _LOW_HZ) & (response.f_hz <= _HIGH_HZ)
    return float(np.median(np.abs(response.h[use])))
