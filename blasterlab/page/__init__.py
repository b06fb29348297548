"""Pages to hand on: one file in which the kit's own shot answers a reader without Python."""
