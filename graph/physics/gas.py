"""Gas constants and heat capacities used throughout.

References
----------
Dry air 287.05 J/(kg.K) (ISO 2533:1975), 1005 J/(kg.K) and 1.4 near room temperature. Fresh charge with petrol vapour
283 J/(kg.K) (assumption, mole balance at lambda 0.85). Exhaust of petrol: 289 J/(kg.K), 1.33, and
about 1250 J/(kg.K) over the whole temperature range of an enthalpy balance, 1200 J/(kg.K) across a turbine
(assumptions). Cantera gives 291 J/(kg.K) for stoichiometric burned gas and 298 at a fuel-air equivalence ratio of
1.15, and a ratio of heat capacities of 1.27 to 1.28 at 1200 K: choked flow of hot rich gas is overstated by 2 to 3 %.
"""

#: Dry air: gas constant [J/(kg.K)], heat capacity [J/(kg.K)], ratio of heat capacities [1].
R_AIR = 287.05
CP_AIR = 1005.0
K_AIR = 1.4
#: Fresh charge: gas constant [J/(kg.K)].
R_CHARGE = 283.0
#: Exhaust: gas constant [J/(kg.K)], ratio of heat capacities [1].
R_EXHAUST = 289.0
K_EXHAUST = 1.33
#: Exhaust: heat capacity in an enthalpy balance and across a turbine [J/(kg.K)].
CP_EXHAUST = 1250.0
CP_TURBINE = 1200.0
