"""Several examinations beside each other: what differs, what repeats, what a repair changed.

Conventions: a summary is a few kilobytes of plain numbers and words, from which everything here is
computed; no recording and no curve is needed. A difference is the second less the first, in base
units, with the doubt that remains after common causes have cancelled. Examinations have causes in
common only where they were made with one setup; what is common but cannot be told apart, such as
references that two examinations share, is left in both doubts, which makes an interval too wide
and never too narrow.
"""
