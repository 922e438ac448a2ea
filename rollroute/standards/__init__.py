"""Published limits, each with its section and how well it is known; and the table of doubts, which are assumptions.

Standards say what a builder must provide. Whether a chair passes is decided by the chair's own limits and the rider's word.
"""

from rollroute.standards.doubts import DoubtKind as DoubtKind
from rollroute.standards.doubts import Doubts as Doubts
from rollroute.standards.doubts import doubts_of as doubts_of
from rollroute.standards.doubts import load_doubts as load_doubts
from rollroute.standards.limit import Limit as Limit
from rollroute.standards.presets import CEILING_GRADE as CEILING_GRADE
from rollroute.standards.presets import DEFAULT_STANDARD as DEFAULT_STANDARD
from rollroute.standards.presets import GradeRow as GradeRow
from rollroute.standards.presets import Standard as Standard
from rollroute.standards.presets import load_standard as load_standard
from rollroute.standards.presets import standard_names as standard_names
from rollroute.standards.ramps import RampLayout as RampLayout
from rollroute.standards.ramps import lay_out_ramp as lay_out_ramp
from rollroute.standards.ramps import ramp_length_m as ramp_length_m
from rollroute.standards.vehicles import VehicleLimits as VehicleLimits
from rollroute.standards.vehicles import load_vehicle_limits as load_vehicle_limits
