"""Down range: drag, the flight, aiming, groups, and how a dart pitches.

Start with `blasterlab.fly` and `blasterlab.group`.  Leaves out: spin, Coriolis, and what happens at impact.
"""
