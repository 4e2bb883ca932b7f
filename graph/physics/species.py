"""Thermodynamic properties of the species of burned gas, and of a fuel's vapour.

References
----------
B. J. McBride, S. Gordon and M. A. Reno, Coefficients for Calculating Thermodynamic and Transport Properties of
Individual Species, NASA TM-4513, 1993: two polynomials per species, 200 to 1000 K and 1000 to 6000 K, ideal gas at
1 bar, elements at 298.15 K as zero of enthalpy. Public domain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.model import Array

#: Gas constant [J/(mol.K)] and the standard pressure of the polynomials [Pa].
GAS_CONSTANT = 8.314462618
STANDARD_PRESSURE = 1.0e5
#: Order of the species along the first axis of every array of this module.
SPECIES = ("CO", "CO2", "H2", "H2O", "O2", "N2", "OH", "O", "H", "NO")
#: Coefficients a1 to a7 of each species [1], [1/K] ... below and above 1000 K.
_LOW = np.array(
    [
        (3.57953347, -6.1035368e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13, -14344.086, 3.50840928),
        (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697, 9.90105222),
        (2.34433112, 7.98052075e-3, -1.9478151e-5, 2.01572094e-8, -7.37611761e-12, -917.935173, 0.683010238),
        (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267, -0.849032208),
        (3.78245636, -2.99673415e-3, 9.847302e-6, -9.68129508e-9, 3.24372836e-12, -1063.94356, 3.65767573),
        (3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12, -1046.97628, 2.96747468),
        (3.99201543, -2.40131752e-3, 4.61793841e-6, -3.88113333e-9, 1.3641147e-12, 3615.08056, -0.103925458),
        (3.1682671, -3.27931884e-3, 6.64306396e-6, -6.12806624e-9, 2.11265971e-12, 29122.2592, 2.05193346),
        (2.5, 0.0, 0.0, 0.0, 0.0, 25473.6599, -0.446682853),
        (4.21859896, -4.63988124e-3, 1.10443049e-5, -9.34055507e-9, 2.80554874e-12, 9845.09964, 2.28061001),
    ]
)
_HIGH = np.array(
    [
        (3.04848583, 1.35172818e-3, -4.85794075e-7, 7.88536486e-11, -4.69807489e-15, -14266.1171, 6.0170979),
        (4.63659493, 2.74131991e-3, -9.95828531e-7, 1.60373011e-10, -9.16103468e-15, -49024.9341, -1.93534855),
        (2.93286579, 8.26607967e-4, -1.46402335e-7, 1.54100359e-11, -6.88804432e-16, -813.065597, -1.02432887),
        (2.67703787, 2.97318329e-3, -7.7376969e-7, 9.44336689e-11, -4.26900959e-15, -29885.8938, 6.88255571),
        (3.66096083, 6.56365523e-4, -1.41149485e-7, 2.05797658e-11, -1.29913248e-15, -1215.97725, 3.41536184),
        (2.95257626, 1.39690057e-3, -4.92631691e-7, 7.86010367e-11, -4.60755321e-15, -923.948645, 5.87189252),
        (2.83864607, 1.10725586e-3, -2.93914978e-7, 4.20524247e-11, -2.42169092e-15, 3943.95852, 5.84452662),
        (2.54363697, -2.73162486e-5, -4.1902952e-9, 4.95481845e-12, -4.79553694e-16, 29226.012, 4.92229457),
        (2.50000286, -5.65334214e-9, 3.63251723e-12, -9.1994972e-16, 7.95260746e-20, 25473.6589, -0.446698494),
        (3.26071234, 1.19101135e-3, -4.29122646e-7, 6.94481463e-11, -4.03295681e-15, 9921.43132, 6.36900518),
    ]
)
#: The same of iso-octane vapour, whose warming stands for that of every petrol, and its molar mass [kg/mol].
_VAPOUR_LOW = np.array(
    [(0.815737338, 7.32643959e-2, 1.78300688e-5, -6.9358962e-8, 3.21629382e-11, -30477.2862, 24.1509994)]
)
_VAPOUR_HIGH = np.array(
    [(15.9899273, 5.5318479e-2, -1.95267072e-5, 3.11779172e-9, -1.85312577e-13, -35875.7973, -60.1161414)]
)
_VAPOUR_MASS = 0.114231


def properties(temperature: Array | float) -> tuple[Array, Array]:
    """Enthalpy and Gibbs energy of each species at the standard pressure.

    Parameters
    ----------
    temperature : array
        200 to 6000 K [K].

    Returns
    -------
    enthalpy, gibbs : array, shape (10, ...)
        Over gas constant times temperature [1], in the order of :data:`SPECIES`.

    References
    ----------
    NASA TM-4513 (module).

    Examples
    --------
    The enthalpy of formation of carbon dioxide, -393.51 kJ/mol (CODATA):

    >>> enthalpy, _ = properties(298.15)
    >>> round(float(enthalpy[SPECIES.index("CO2")] * GAS_CONSTANT * 298.15) / 1e3, 2)
    -393.51
    """
    return _evaluated(np.asarray(temperature, dtype=float), _LOW, _HIGH)


def _evaluated(temperature: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Enthalpy and Gibbs energy from both sets of coefficients, shape (species, 7)."""
    t = temperature
    wide = (slice(None), slice(None), *(None,) * t.ndim)
    a1, a2, a3, a4, a5, a6, a7 = np.moveaxis(np.where(t < 1000.0, low[wide], high[wide]), 1, 0)
    enthalpy = a1 + t * (a2 / 2 + t * (a3 / 3 + t * (a4 / 4 + t * a5 / 5))) + a6 / t
    entropy = a1 * np.log(t) + t * (a2 + t * (a3 / 2 + t * (a4 / 3 + t * a5 / 4))) + a7
    return np.asarray(enthalpy), np.asarray(enthalpy - entropy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vapour:
    """A fuel that has evaporated.

    Parameters
    ----------
    hydrogen, oxygen : float
        Atoms per atom of carbon [1].
    molar_mass : float
        Of a mean molecule [kg/mol].
    heating_value : float
        Lower heating value of the vapour: that of the liquid and its latent heat [J/kg].
    """

    hydrogen: float
    oxygen: float
    molar_mass: float
    heating_value: float

    def energy(self, temperature: Array) -> Array:
        """Internal energy from the elements at 298.15 K, formation included [J/kg], over temperature [K]."""
        carbon = 1.0 / (0.012011 + 0.001008 * self.hydrogen + 0.015999 * self.oxygen)
        burned = properties(298.15)[0] * GAS_CONSTANT * 298.15
        dioxide, steam = (float(burned[SPECIES.index(name)]) for name in ("CO2", "H2O"))
        formed = self.heating_value + carbon * (dioxide + self.hydrogen / 2.0 * steam)
        warmth, cold = (_evaluated(t, _VAPOUR_LOW, _VAPOUR_HIGH)[0][0] * t for t in (temperature, np.asarray(298.15)))
        warmed = (warmth - cold) * GAS_CONSTANT / _VAPOUR_MASS
        return np.asarray(formed + warmed - GAS_CONSTANT * temperature / self.molar_mass)


#: Iso-octane: lower heating value from formation enthalpies of vapour (-224.01 kJ/mol), carbon dioxide and steam.
ISO_OCTANE = Vapour(hydrogen=2.25, oxygen=0.0, molar_mass=0.114231, heating_value=44.651e6)
