"""Two pedals in a notebook: open, read the three lines, take arrays, draw, compare.

Each `# %%` begins a cell in editors that know them; as a script it does the same in a row:

    python scripts/example_notebook.py [FOLDER]

FOLDER is one that `loopback demo` made; without it two pedals are simulated into `example`.
"""

# %% Examinations: folders that the demo left, or simulated ones

import sys
from pathlib import Path

import numpy as np

import loopback

place = Path(sys.argv[1] if len(sys.argv) > 1 else "example")
for circuit in ("harbour-bell", "quarry-lamp"):
    if not (place / circuit).exists():
        loopback.simulate_examination(place / circuit, circuit)

exam = loopback.open_examination(place / "quarry-lamp")
print(exam)
for run in exam.document.runs[:3]:
    label = run.label
    print(f"  run {run.id}: {label.path}, {label.feed} lead, power {label.power}")

# %% The three lines; in a notebook, a cell that ends in `lamp` shows them as a table

lamp = loopback.analyse(exam)
bell = loopback.analyse(place / "harbour-bell")
result = lamp.result
print(f"path in bypass: {result.path}; without power: {result.power}; size: {result.grades}")

# %% Numbers with doubt: a value, its standard uncertainty, and intervals of any coverage

conductance = result.shunt.g_siemens
low, high = conductance.interval(0.95)
print(f"across the line {1e-3 / conductance.value:.0f} kΩ, {1e-3 / high:.0f} to {1e-3 / low:.0f}")
print(f"and {result.shunt.c_farad.value * 1e12:.1f} pF")

# %% Curves: arrays of frequency and level, each with half of its 95 % interval

(through_resistor,) = loopback.curves(lamp, feed="resistor", power="on", in_bypass=True)
for f_hz in (100.0, 1_000.0, 10_000.0):
    level = np.interp(f_hz, through_resistor.f_hz, through_resistor.value)
    half = np.interp(f_hz, through_resistor.f_hz, through_resistor.half_width)
    print(f"{f_hz:7.0f} Hz  {level:+.3f} dB ± {half:.3f}")

# The same from two parts: what lies across the line, behind 100 kΩ and beside the setup's own load.
# The reference has the coupler's 2 pF where the pedal has its own capacitance.
s = 2j * np.pi * through_resistor.f_hz
line = 1 / result.resistor_ohm + 1e-6 + s * result.setup_farad  # into an input of 1 MΩ
across = conductance.value + s * (result.shunt.c_farad.value - 2e-12)
model_db = -20 * np.log10(np.abs(1 + across / line))
apart = np.abs(through_resistor.value - model_db).max()
print(f"that circuit and the measurement are within {apart:.3f} dB")

# %% Pictures: figures of matplotlib, to be changed or saved

figure = loopback.figure(lamp, "insertion")
figure.savefig(place / "quarry-lamp-insertion.png", dpi=150)
loopback.figure(lamp, "zoom", theme="dark").savefig(place / "quarry-lamp-zoom.svg")

# %% Two pedals: what differs beyond doubt, what they have in common taken off

pair = loopback.compare(bell, lamp)
for sentence in loopback.pair_sentences(pair):
    print(sentence)
