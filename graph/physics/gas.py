"""Gas constants used throughout.

References
----------
Dry air 287.05 J/(kg.K) (ISO 2533). Exhaust values of a slightly rich petrol mixture: 289 J/(kg.K), 1.33, and about
1250 J/(kg.K) over the whole temperature range of an enthalpy balance, 1200 J/(kg.K) across a turbine (assumptions
inside the range of equilibrium calculations).
"""

R_AIR = 287.05
CP_AIR = 1005.0
K_AIR = 1.4
R_EXHAUST = 289.0
K_EXHAUST = 1.33
CP_EXHAUST = 1250.0
CP_TURBINE = 1200.0
"""Heat capacities [J/(kg.K)] and ratios [1]."""
