"""Everything measured on one pedal with one setup: a folder of recordings and one JSON document.

Conventions: channels are counted from 0, runs and takes from 1; times are ISO 8601 with offset;
file names in the document are relative to the folder, with forward slashes; hashes are SHA-256 of
whole files. What was recorded is never changed, moved or overwritten; a repeated run stands beside
the one that it replaces.
"""
