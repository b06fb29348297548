"""The bench: chronograph strings, what they mean, and what they say about a build's losses."""
