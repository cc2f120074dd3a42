"""Gates: level, clock, processing, wiring, presence; each finding is one record."""
