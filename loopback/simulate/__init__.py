"""Pretended hardware: pedals as netlists, the interface and its leads, and what users do wrong.

Pedals are data (``pedals/*.cir``, solved by :mod:`loopback.circuit.nodal`), so that what is fitted
to a measurement is never tested against its own formula. Everything random is seeded.
"""
