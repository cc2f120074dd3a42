"""Wiring faults as results: what all runs at hand, presses and taps are consistent with.

What no design does is a fault by itself (a joint of 1 kΩ in line, a short of 0.1 Ω in bypass). What
some design does on purpose (a resistor across the line, an effect's input that stays there, a
capacitance) is one only against a build sheet. `signatures` holds the faults as data; `dead`,
`line`, `sheet`, `sound` and `watched` hold the rules, one file for each kind of evidence; each rule
returns a match with its numbers or nothing; `find` ranks. Sentences are in
`loopback.verdict.sentences_faults`.
"""
