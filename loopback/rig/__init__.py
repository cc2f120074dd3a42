"""The only door to the outside: a run goes in, recordings come out."""
