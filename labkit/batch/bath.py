"""How hot a water bath can get: pressure by elevation, and the boiling point of water by pressure."""

import math

from labkit.batch.asked import read_between

LOWEST_M, HIGHEST_M = -500.0, 9000.0

# Standard atmosphere, ISO 2533:1975 and ICAO Doc 7488: sea level, lapse rate, and gravity by radius.
_PRESSURE_PA = 101_325.0
_KELVIN = 288.15
_LAPSE_K_M = 0.0065
_RADIUS_M = 6_356_766.0
_EXPONENT = 9.80665 / (287.05287 * _LAPSE_K_M)

# IAPWS-IF97, table 34: coefficients n1 to n10 of the saturation line (region 4).
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


def water_bath_ceiling(elevation_m: float) -> float:
    """Return the boiling point of water [°C] at an elevation: no water bath gets hotter.

    Pressure of the standard atmosphere, and the saturation line of water. The weather moves
    the pressure by about ±3 %, and so the boiling point by about ±1 °C; what stands in the
    bath stays some degrees below its water.

    Parameters
    ----------
    elevation_m : float [m]
        Above sea level, −500 to 9000.

    Raises
    ------
    LabError
        For no number, or an elevation outside that range.

    Examples
    --------
    >>> round(water_bath_ceiling(0), 2), round(water_bath_ceiling(2000), 1)
    (99.97, 93.3)
    """
    return boiling_point(standard_pressure(elevation_m))


def standard_pressure(elevation_m: float) -> float:
    """Return the pressure of the standard atmosphere [Pa] at an elevation [m], −500 to 9000.

    p = 101325·(1 − 0.0065·H/288.15)^5.2559 with the geopotential height H = r·z/(r + z),
    ISO 2533:1975 and ICAO Doc 7488.

    >>> round(standard_pressure(1000))
    89876
    """
    elevation = read_between(elevation_m, "elevation", "m", LOWEST_M, HIGHEST_M)
    height = _RADIUS_M * elevation / (_RADIUS_M + elevation)
    return float(_PRESSURE_PA * (1.0 - _LAPSE_K_M * height / _KELVIN) ** _EXPONENT)


def boiling_point(pressure_pa: float) -> float:
    """Return the temperature [°C] at which water boils under a pressure [Pa], 1 kPa to 1 MPa.

    The backward equation of region 4, IAPWS-IF97 (2007), equation 31.

    >>> round(boiling_point(1e5), 4)  # 372.755919 K, table 36
    99.6059
    """
    pressure = read_between(pressure_pa, "pressure", "Pa", 1e3, 1e6)
    beta = (pressure / 1e6) ** 0.25
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2.0 * g / (-f - math.sqrt(f**2 - 4.0 * e * g))
    root = math.sqrt((_N[9] + d) ** 2 - 4.0 * (_N[8] + _N[9] * d))
    return (_N[9] + d - root) / 2.0 - 273.15
