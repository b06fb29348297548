"""The parts of the power train, each on its own: spring, chamber, barrel, dart."""
