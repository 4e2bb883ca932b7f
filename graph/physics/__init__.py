"""Published correlations: arrays in, arrays out, SI; they know no part, no rule and no sheet.

Every function broadcasts like NumPy, so that the last axis may be engine speed and any axes before it a batch.
Engine speed is in revolutions per second [1/s], angles are in radians, pressures are absolute [Pa] unless a name says
gauge, and each docstring states the range in which its correlation holds and how well its source is known.
"""
