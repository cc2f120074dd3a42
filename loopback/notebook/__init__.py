"""The package from a notebook or a script: examinations, analysis, curves and figures.

Everything here is reached from the package itself, and nothing is written but what is asked for:

>>> import tempfile
>>> from pathlib import Path
>>> import loopback
>>> with tempfile.TemporaryDirectory() as place:
...     path = Path(place, "quarry-lamp")
...     exam = loopback.simulate_examination(path, "quarry-lamp", plan="quick", sweep_s=1.0)
...     analysis = loopback.analyse(exam)
>>> exam
<ExaminationFolder of 'Quarry Lamp': 5 runs, 12 recordings>
>>> analysis.result.path, analysis.result.power
('loaded', 'bypass_position')
>>> low, high = analysis.result.shunt.g_siemens.interval(0.95)
>>> low < 1e-6 < high  # the 1 MΩ in its circuit
True
>>> (curve,) = loopback.curves(analysis, "insertion", power="on", in_bypass=True)
>>> curve.name, curve.unit, curve.f_hz.shape == curve.value.shape
('02* on, as found, 100 kΩ', 'dB', True)
>>> picture = loopback.figure(analysis, "insertion")
>>> type(picture).__name__
'Figure'

A cell that ends in an analysis shows its three lines. Numbers with doubt are `Estimate`; arrays of
frequency are in hertz.
"""
