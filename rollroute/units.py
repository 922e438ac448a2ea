"""Conversions and physical constants, each with its definition.

Lengths in metres, masses in kilograms, energy in watt hours, time in seconds, grades as rise over run.
"""

from __future__ import annotations

STANDARD_GRAVITY_M_S2 = 9.80665  # exact by definition (CGPM 1901)
J_PER_WH = 3600.0  # exact: 1 W for one hour
M_PER_INCH = 0.0254  # exact (international inch, 1959)
M_PER_FOOT = 0.3048  # exact (international foot, 1959)
M_PER_US_SURVEY_FOOT = 1200.0 / 3937.0  # exact by the Mendenhall definition; retired in 2022, still in old rasters
M_PER_MILE = 1609.344  # exact (international mile)
M_PER_DEGREE = 111_319.49  # 2 pi 6 378 137 m / 360: a degree of the WGS 84 equator; to compare nearby distances, off by at most 0.7 %
KG_PER_LB = 0.45359237  # exact (international avoirdupois pound, 1959)
S_PER_MIN = 60.0
S_PER_H = 3600.0
