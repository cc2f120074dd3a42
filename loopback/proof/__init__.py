"""Whether published numbers follow from the recordings: everything is computed again.

Nothing here reads a stored result. What was published is compared with what the recordings give
now: bit for bit where program and kind of machine are the same, otherwise within the tolerances
that stand in `comparing` and `curves`.
"""
