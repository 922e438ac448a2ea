"""Read OSM tags into ranked facts: one module per family of keys, each naming the wiki pages that define it.

Every reader takes the tags of one element and returns plain facts; none raises, whatever is tagged.
What is not understood stays unknown and carries a problem that names key and value; ``problems_of`` gathers them.
"""

from rollroute.network.tags.access import Access as Access
from rollroute.network.tags.access import passing_of as passing_of
from rollroute.network.tags.access import read_access as read_access
from rollroute.network.tags.barriers import BarrierFact as BarrierFact
from rollroute.network.tags.barriers import BarrierKind as BarrierKind
from rollroute.network.tags.barriers import Passing as Passing
from rollroute.network.tags.barriers import read_barrier as read_barrier
from rollroute.network.tags.conditional import Moment as Moment
from rollroute.network.tags.conditional import has_conditional as has_conditional
from rollroute.network.tags.conditional import possible_values as possible_values
from rollroute.network.tags.conditional import read_conditional as read_conditional
from rollroute.network.tags.conditional import read_in_season as read_in_season
from rollroute.network.tags.conditional import read_open as read_open
from rollroute.network.tags.crossings import CrossingFact as CrossingFact
from rollroute.network.tags.crossings import CrossingKind as CrossingKind
from rollroute.network.tags.crossings import read_crossing as read_crossing
from rollroute.network.tags.doors import DoorFact as DoorFact
from rollroute.network.tags.doors import DoorKind as DoorKind
from rollroute.network.tags.doors import read_door as read_door
from rollroute.network.tags.inclines import InclineFact as InclineFact
from rollroute.network.tags.inclines import read_cross_slope as read_cross_slope
from rollroute.network.tags.inclines import read_incline as read_incline
from rollroute.network.tags.kerbs import KerbFact as KerbFact
from rollroute.network.tags.kerbs import KerbWord as KerbWord
from rollroute.network.tags.kerbs import read_kerb as read_kerb
from rollroute.network.tags.lengths import read_width as read_width
from rollroute.network.tags.levels import read_levels as read_levels
from rollroute.network.tags.lifts import LiftFact as LiftFact
from rollroute.network.tags.lifts import read_lift as read_lift
from rollroute.network.tags.numbers import read_count as read_count
from rollroute.network.tags.numbers import read_length_m as read_length_m
from rollroute.network.tags.numbers import read_mass_kg as read_mass_kg
from rollroute.network.tags.problems import USED_KEYS as USED_KEYS
from rollroute.network.tags.problems import problem_of as problem_of
from rollroute.network.tags.problems import problems_of as problems_of
from rollroute.network.tags.reading import Reading as Reading
from rollroute.network.tags.roads import read_lanes as read_lanes
from rollroute.network.tags.roads import read_mass_limit_kg as read_mass_limit_kg
from rollroute.network.tags.roads import read_maxspeed_kmh as read_maxspeed_kmh
from rollroute.network.tags.sidewalks import SidewalkFact as SidewalkFact
from rollroute.network.tags.sidewalks import SideWord as SideWord
from rollroute.network.tags.sidewalks import read_sidewalk as read_sidewalk
from rollroute.network.tags.sidewalks import side_tags as side_tags
from rollroute.network.tags.steps import StepsFact as StepsFact
from rollroute.network.tags.steps import read_steps as read_steps
from rollroute.network.tags.structures import StructureFact as StructureFact
from rollroute.network.tags.structures import read_lit as read_lit
from rollroute.network.tags.structures import read_structure as read_structure
from rollroute.network.tags.surfaces import Smoothness as Smoothness
from rollroute.network.tags.surfaces import Surface as Surface
from rollroute.network.tags.surfaces import is_worse as is_worse
from rollroute.network.tags.surfaces import read_smoothness as read_smoothness
from rollroute.network.tags.surfaces import read_surface as read_surface
from rollroute.network.tags.surfaces import surface_word as surface_word
from rollroute.network.tags.ways import ASSUMPTIONS as ASSUMPTIONS
from rollroute.network.tags.ways import CARRIAGEWAYS as CARRIAGEWAYS
from rollroute.network.tags.ways import WayKind as WayKind
from rollroute.network.tags.ways import is_carriageway as is_carriageway
from rollroute.network.tags.ways import way_kind as way_kind
from rollroute.network.tags.wheelchair import Wheelchair as Wheelchair
from rollroute.network.tags.wheelchair import WheelchairFact as WheelchairFact
from rollroute.network.tags.wheelchair import read_wheelchair as read_wheelchair
