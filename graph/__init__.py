"""Parts with rated limits, the physics of what each part must carry, and the solver.

SI inside, no files, no screen. See DEVELOPERS.md for the map.
"""
