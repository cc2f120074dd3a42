"""Everything measured on one pedal with one setup: a folder of recordings and one JSON document."""
