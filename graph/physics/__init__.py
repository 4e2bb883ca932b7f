"""Published correlations: arrays in, arrays out, SI. They know no part, no rule and no sheet.

Engine speed is in revolutions per second, angles are in radians, pressures are absolute unless the name says gauge.
"""
