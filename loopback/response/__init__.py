"""From recordings to complex responses with their variance.

Conventions: a response is recorded over played, both as fractions of full scale; its phase is
referred to the first sample of the take as located, so that a delay ``d`` is ``exp(-jωd)``;
variances are of the complex value, ``E|x - E x|²``, half of it in each of the two components;
0 dB is the reference run.
"""
