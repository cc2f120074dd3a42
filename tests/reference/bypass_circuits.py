"""Bypass circuits with the figures that another nodal solver found for them.

The circuits are small-signal models with values as common practice has them. The figures were
computed independently, by a solver that shares no code with this package, and stand here to the
digits it printed. What they were computed for:

- feeds: 150 Ω (plain), and 100 kΩ with 0.3 pF across it (resistor);
- the setup's node: 1 MΩ and 400 pF, of which 2 pF are the coupler that the pedal replaces;
- levels in dB against that coupler, at 50 Hz, 1, 5 and 20 kHz;
- shunt: least squares of 1/T = 1 + Zth (G + jωC) over 300 frequencies in equal ratios from 30 Hz to
  40 kHz, resistor feed, each equation weighted by the level of the reference; its residual is the
  rms of what remains of the level;
- determinant AD − BC at 1 kHz, from two feeds and two loads, the second with 1 kΩ across.
"""

from __future__ import annotations

from dataclasses import dataclass

from loopback.circuit.netlist import Element, parse_elements

# pedal and state        plain feed: dB at 50, 1k, 5k, 20k Hz, resistor feed: the same,
#                        shunt pF, shunt ohm, residual dB, determinant; a dash: no meaning
_FIGURES = """
harbour-bell bypass | 0.00 0.00 0.00 0.00 | 0.00 -0.01 -0.12 -0.20 | 10 inf 0.00 1.00
drift-bottle bypass | 0.00 0.00 0.00 0.00 | 0.00 -0.04 -0.40 -0.66 | 33 inf 0.00 1.00
quarry-lamp bypass | 0.00 0.00 0.00 0.00 | -0.76 -0.73 -0.46 -0.24 | 10 1M 0.00 1.00
twin-anchor bypass | 0.00 0.00 0.00 0.00 | -1.45 -1.40 -0.79 -0.28 | 10 500k 0.00 1.00
night-heron bypass | 0.00 0.00 0.00 0.00 | -0.08 -0.10 -0.30 -0.45 | 22 10M 0.00 1.00
tidal-clock bypass | 0.00 -0.01 -0.01 -0.01 | -0.95 -5.42 -3.51 -1.00 | 101 162k 1.52 1.00
mill-pond bypass | 0.00 0.00 0.00 0.00 | -1.33 -1.41 -1.29 -1.20 | 61 525k 0.04 1.00
gravel-road bypass | -0.16 -0.16 -0.16 -0.16 | -21.70 -21.62 -18.25 -9.03 | 97 8.08k 0.15 1.00
wool-blanket bypass | -0.09 -0.12 -0.86 -6.23 | -0.09 -2.32 -9.48 -11.53 | 1144 10.8M 0.00 1.00
amber-dial bypass | 0.00 -0.01 -0.01 -0.01 | -0.95 -5.46 -3.43 -0.69 | 85 160k 1.55 1.00
field-gate bypass | 0.00 0.00 0.00 0.00 | 0.00 -0.02 -0.17 -0.29 | 14 inf 0.00 1.00
quiet-valley bypass | 0.00 0.00 0.00 0.00 | 0.00 -0.18 -1.71 -2.58 | 144 inf 0.00 1.00
paper-kite bypass | -0.64 -0.55 -0.55 -0.57 | -1.43 -1.15 2.25 11.83 | -380 539k 0.05 0.00
paper-kite unpowered | -120.34 -94.67 -80.74 -69.36 | -121.04 -95.17 -77.84 -56.81 | - - 24.69 1.00
copper-vane bypass | -0.01 -0.01 -0.01 -0.01 | -2.10 -2.04 -1.33 -0.72 | 30 332k 0.01 1.00
salt-lantern bypass | -0.02 -0.01 -0.01 -0.01 | -0.37 -0.14 3.26 12.94 | -387 2.14M 0.01 0.00
chalk-path bypass | -0.30 -0.19 -0.19 -0.19 | -1.25 -0.95 2.45 12.08 | -389 635k 0.09 0.00
long-meadow bypass | -0.89 -0.80 -0.80 -0.80 | -0.88 -0.58 2.83 12.49 | -389 962k 0.07 0.00
river-lock bypass | -0.07 -0.06 -0.06 -0.06 | -1.40 -1.26 2.14 11.76 | -378 498k 0.04 0.00
iron-bridge through | -0.01 -0.01 0.07 1.40 | -13.85 -0.10 -5.04 -6.51 | 297 - 5.96 1.00
garden-tap through | -0.01 -0.01 -0.01 -0.01 | -2.69 -2.61 -1.63 -0.71 | 28 250k 0.00 1.00
garden-tap-low through |-20.38 -20.44 -21.56 -28.16|-21.14 -20.98 -18.74 -15.76|2031 8.75k 0.16 1.00
cold-hearth bypass | -81.34 -55.55 -45.10 -42.93 | -81.34 -55.33 -41.48 -29.62 | - - 25.52 1.00
"""

_NETLISTS = """
* harbour-bell bypass
Rsw IN OUT 0.05
Cci IN 0 6p
Cco OUT 0 6p
* drift-bottle bypass
Rsw IN OUT 0.1
Cci IN 0 18p
Cco OUT 0 17p
* quarry-lamp bypass
Rsw IN OUT 0.05
Cci IN 0 6p
Cco OUT 0 6p
Rpd IN 0 1M
* twin-anchor bypass
Rsw IN OUT 0.05
Cci IN 0 6p
Cco OUT 0 6p
Rp1 IN 0 1M
Rp2 OUT 0 1M
* night-heron bypass
Rsw IN OUT 0.05
Cci IN 0 6p
Cco OUT 0 6p
Rsn IN 0 10M
Csn IN 0 12p
* tidal-clock bypass
Rsw IN OUT 0.05
Cci IN 0 8p
Cco OUT 0 6p
Ccc IN a 10n
Rs a b 68k
Rbb b 0 33k
Cbb b 0 150p
* mill-pond bypass
Rsw IN OUT 0.05
Cci IN 0 8p
Cco OUT 0 6p
Ccc IN a 22n
Rs a b 1k
Rbb b 0 510k
Cbb b 0 47p
* gravel-road bypass
Rsw IN OUT 0.05
Cci IN 0 8p
Cco OUT 0 6p
Ccc IN a 2.2u
Rs a 0 8k
* wool-blanket bypass
Rf IN OUT 10k
Cf OUT 0 1n
Cci IN 0 6p
* amber-dial bypass
Rsw IN OUT 0.05
Cci IN 0 12p
Rt IN x 100k
Ct x 0 10n
* field-gate bypass
Rsw IN OUT 0.1
Cci IN 0 8p
Cco OUT 0 8p
* quiet-valley bypass
Rsw IN OUT 0.1
Cci IN 0 8p
Cco OUT 0 8p
Cmt OUT 0 130p
* paper-kite bypass
C1 IN a 47n
R1 a b 10k
Rb b 0 470k
Cb b 0 12p
E1 e 0 b 0 0.985
Re e c 30
C2 c d 1u
Rj d g 100
Rg g 0 470k
E2 h 0 g 0 0.985
Ro h o 30
C3 o p 1u
Rs p OUT 1k
Rp OUT 0 100k
Cco OUT 0 8p
Cci IN 0 8p
* paper-kite unpowered
C1 IN a 47n
R1 a b 10k
Rb b 0 500k
Cb b e 8p
Re e 0 10k
C2 e d 1u
Rj d g 100
Rg g 0 470k
Cb2 g h 8p
Rh h 0 10k
C3 h p 1u
Rs p OUT 1k
Rp OUT 0 100k
Cco OUT 0 8p
Cci IN 0 8p
Cx IN OUT 0.3p
* copper-vane bypass
C1 IN a 1u
Ra a 0 1M
Ca a 0 10p
Ron a b 100
Cb b 0 10p
Rb b 0 1M
C2 b OUT 1u
Ro OUT 0 1M
Cci IN 0 6p
Cco OUT 0 6p
* salt-lantern bypass
Cci IN 0 8p
Rpd IN 0 2.2M
C1 IN a 100n
Ra a 0 1M
Ca a 0 6p
E1 e 0 a 0 1.0
Ro e f 100
C2 f OUT 10u
Rp OUT 0 100k
Cco OUT 0 8p
* chalk-path bypass
Cci IN 0 8p
C1 IN a 47n
Ra a 0 430k
Ca a 0 10p
E1 e 0 a 0 0.98
Ro e f 60
C2 f OUT 1u
Rp OUT 0 100k
Cco OUT 0 8p
* long-meadow bypass
Cci IN 0 8p
C1 IN a 22n
Ra a 0 1M
Ca a 0 6p
E1 e 0 a 0 0.92
Ro e f 700
C2 f OUT 1u
Rp OUT 0 100k
Cco OUT 0 8p
* river-lock bypass
Rsw IN a 0.05
Cci IN 0 10p
Cfx IN k 22n
Rfx k 0 510k
C1 a b 100n
Rb b 0 1M
Cb b 0 10p
E1 e 0 b 0 1.0
Ro e f 560
C2 f OUT 1u
Rp OUT 0 100k
Cco OUT 0 8p
* iron-bridge through
Cci IN 0 250p
Rp IN a 500
Lm a 0 60
Llk a b 15m
Tt b 0 s 0 1
Rs s OUT 500
Cco OUT 0 250p
Ciw IN OUT 100p
* garden-tap through
Rsw IN OUT 0.1
Cci IN 0 15p
Rv IN 0 250k
Cco OUT 0 15p
* garden-tap-low through
Ra IN OUT 450k
Rb OUT 0 50k
Cci IN 0 15p
Cco OUT 0 15p
* cold-hearth bypass
Cx IN OUT 3p
Cci IN 0 10p
Cco OUT 0 10p
Ro OUT 0 100k
Ri IN 0 1M
"""


@dataclass(frozen=True)
class Known:
    """One circuit and its figures as printed."""

    pedal: str
    state: str
    elements: tuple[Element, ...]
    plain_db: tuple[str, ...]
    resistor_db: tuple[str, ...]
    shunt_pf: str
    shunt_ohm: str
    residual_db: str
    determinant: str


def _known() -> dict[str, Known]:
    blocks = [block.split("\n", 1) for block in _NETLISTS.split("* ")[1:]]
    elements = {
        title: parse_elements(enumerate(text.split("\n"), start=1), title) for title, text in blocks
    }
    known = {}
    for row in _FIGURES.strip().split("\n"):
        title, plain, resistor, rest = (part.strip() for part in row.split("|"))
        pedal, state = title.split()
        known[title] = Known(
            pedal, state, elements[title], tuple(plain.split()), tuple(resistor.split()),
            *rest.split(),
        )  # fmt: skip
    return known


KNOWN = _known()
