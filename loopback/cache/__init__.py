"""Results of analyses, kept beside the recordings that they were computed from.

::

    cache/summary.json   what `compare` needs of one examination, a few kilobytes
    cache/analysis.bin   the whole analysis, bit for bit, for `show` and its like
    cache/CACHEDIR.TAG   tells backup programs that nothing here is worth keeping

Conventions: each file is sealed with the key of its contents and a SHA-256 of its own bytes. The
key is a hash over the document, what this setup showed before, the SHA-256 that every recording
has now (not the one that was listed), names of files that no run lists, the source of the stages
that compute, the numeric libraries, and the kind of machine. What does not fit in every point is
as if it were absent: the examination is analysed again, and what is kept gives way. The folder may
be deleted at any time, and one that cannot be written to costs time and nothing else.

A *thorough* look reads every byte of every recording. A *quick* one believes the last thorough
look as long as size, time of change and, where the system has it, time of the last change of
the entry are the same to the nanosecond. What it can miss: bits that the medium lost or a program
wrote past the file system, and, on systems without the third time, a change that left size and
time as they were. Whoever hands over a folder can hand over what is kept in it too: a proof
analyses, and never asks here.
"""
