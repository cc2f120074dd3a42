"""A sitting at the table: guide, rig and folder brought together; setting up before it.

Everything a terminal shows or asks goes through `loopback.guided.sitting.Hands`, so that another
front end, or a test, can stand in its place.
"""
