"""Checks: does the build fit, seal, survive, and what should a builder be careful with?

One module a subject, each with a function of a build and with ``READS``, the names of all values that the
function looks at; ``all`` puts them together.  Nothing here is approval by an engineer, and a build without
findings is not safe for that reason.
"""
