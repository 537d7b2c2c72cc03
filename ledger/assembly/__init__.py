"""
Everything that is bolted together at once: bodies, the links between them, and whether one set of poses serves all.

Only shapes, rooms and poses are known here; which connections form a ring, and what is recorded of them, is for
`cases`.
"""
