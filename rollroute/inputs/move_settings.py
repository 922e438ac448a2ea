"""``move.toml``: the start, the files, the coordinator's limits and every assumption that stands in for an unknown."""

from __future__ import annotations

import datetime as dt
import difflib
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from rollroute.errors import InputError
from rollroute.inputs.move_fields import parse_moment
from rollroute.inputs.move_hazards import Decision
from rollroute.inputs.tabular import RowProblem

Minutes = Annotated[float, Field(ge=0.0, le=2880.0)]  # two days
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Positive = Annotated[float, Field(gt=0.0)]
Count = Annotated[int, Field(ge=0)]
Section = TypeVar("Section", bound="SettingsSection")
HOURS_BEFORE, HOURS_AFTER = 12, 36  # setting: clock times may lie 12 h before the start (``parse_moment``); the night after is the move's


class SettingsSection(BaseModel):
    """A section of ``move.toml``; a name that is not known is an error, so that a misspelt limit is not silently ignored."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Files(SettingsSection):
    """Files of the move, relative to its folder; several alerts may be given."""

    riders: str = "riders.csv"
    shelters: str = "shelters.csv"
    vans: str = "vans.csv"
    escorts: str = "escorts.csv"
    hazards: str = "hazards.geojson"
    alerts: tuple[str, ...] = ()
    map: str | None = None
    heights: str | None = None
    addresses: str | None = None  # None: address_points.csv, where there is one
    field_facts: str | None = None
    passages: str | None = None  # tracks that chairs are known to have driven


class Gates(SettingsSection):
    """When nobody rolls (model §5): the coordinator's limits; each rider's own limit counts too."""

    longest_roll_min: Minutes = 60.0  # assumption
    roll_in_dark: bool = True
    roll_in_rain: bool = False  # water stops joysticks and controllers, not only wheels
    roll_in_smoke: bool = False
    roll_in_lightning: bool = False
    coldest_c: float = -5.0  # assumption
    hottest_c: float = 35.0  # assumption


class Weather(SettingsSection):
    """What the coordinator knows of the evening."""

    temperature_c: Annotated[float, Field(ge=-50.0, le=60.0)] | None = None
    is_wet: bool = False
    is_smoky: bool = False
    has_lightning: bool = False
    dark_from: str | None = None  # clock time; None = light all along
    light_from: str | None = None
    has_mains: bool = True


class Ways(SettingsSection):
    """What the coordinator knows of gates, doors and lifts, and a stricter published preset, if any."""

    keys: tuple[str, ...] = ()  # gates and doors to which somebody holds a key: their name, or node/ID
    powered: tuple[str, ...] = ()  # buildings (or node/ID) whose doors and lifts have power of their own
    standard: str | None = None
    granted: tuple[Literal["customers", "permit", "private", "delivery"], ...] = ()  # access that everybody in this move has been given


class Margins(SettingsSection):
    """Hard margins and the comfort up to which more margin is better."""

    life_support_delay_min: Minutes = 30.0  # assumption: kept on top of planned time, never traded
    comfort_min: Minutes = 30.0  # assumption: time margin beyond which more is not counted
    comfort_soc: Share = 0.15  # assumption: charge margin above the reserve, likewise
    reserve_soc: Share = 0.20  # assumption


class Loading(SettingsSection):
    """Minutes at the van, a setting per vehicle and rider; assumption: 10-15 and 5-10 min for a power chair with belongings."""

    load_min: Minutes = 15.0
    unload_min: Minutes = 10.0
    wait_at_zone_min: Minutes = 0.0


class EscortRules(SettingsSection):
    """People who walk along, and back."""

    per_roll: Count = 1
    per_roll_dark_or_road: Count = 2
    walk_m_s: Positive = 1.1
    unknown_approach_min: Minutes = 30.0  # assumption: an escort whose place is not known


class Night(SettingsSection):
    """Outlets over the night."""

    charged_by: str = "07:00"
    quiet_from: str = "23:00"
    quiet_to: str = "05:00"
    staff: str = ""  # named: swaps at night are allowed
    mains_v: Positive = 120.0
    continuous_share: Share = 0.8  # of a breaker's rating: 1440 W of a circuit of 120 V and 15 A (from memory)


class Assume(SettingsSection):
    """Stand-ins for unknown fields, all on the bad side, all assumptions."""

    rider_mass_kg: Positive = 136.0  # a heavy rider: 300 lb
    load_mass_kg: Annotated[float, Field(ge=0.0)] = 15.0
    seated_height_cm: Positive = 140.0
    life_support_min: Minutes = 240.0
    longest_ride_min: Minutes = 45.0
    longest_outdoors_min: Minutes = 30.0
    intake_per_hour: Positive = 4.0
    circuit_amps: Positive = 15.0
    charger_watts: Positive = 300.0  # 8 A at 24 V, with losses (from memory)
    van_first_min: Minutes = 30.0
    van_last_min: Minutes = 240.0


class Effort(SettingsSection):
    """Limits in work units, never clocks: same input, same plan."""

    exact_units: Count = 14  # up to this many parties the whole plan goes to the exact solver
    exact_work: float = 3.0  # the solver's own deterministic time, for each tier
    search_rounds: Count = 4000
    library_solutions: Count = 10  # that the routing library goes through for the rounds of a large move
    rolls_per_rider: Count = 4  # shelters, nearest first, to which a rider's roll is searched
    roll_labels: Count = 2_000_000  # labels of the route search for all rolls together, shared evenly; see ``least_roll_labels``
    least_roll_labels: Count = 2_000  # of each roll, however many there are
    seed: int = 1


class MoveSettings(SettingsSection):
    """Everything in ``move.toml``."""

    name: str = "move"
    start: dt.datetime
    finish_by: str | None = None  # clock time; None = eight hours after the start
    now: str | None = None  # clock time of the news, for a plan made anew; --now outranks it
    files: Files = Files()
    gates: Gates = Gates()
    ways: Ways = Ways()
    weather: Weather = Weather()
    margins: Margins = Margins()
    loading: Loading = Loading()
    escorts: EscortRules = EscortRules()
    night: Night = Night()
    assume: Assume = Assume()
    effort: Effort = Effort()
    zones: dict[str, dict[str, Any]] = Field(default_factory=dict)
    alerts: dict[str, dict[str, Any]] = Field(default_factory=dict)

    def moment(self, clock: str) -> dt.datetime:
        """The moment of a clock time in this move."""
        moment = parse_moment(clock, self.start)
        assert moment is not None
        return moment

    def minute(self, moment: dt.datetime) -> float:
        """Minutes from the start of the move."""
        return (moment - self.start).total_seconds() / 60.0

    @property
    def horizon_min(self) -> float:
        """Minutes from the start to the end of the plan."""
        return 480.0 if self.finish_by is None else self.minute(self.later_moment(self.finish_by))

    def later_moment(self, clock: str) -> dt.datetime:
        """The first moment of a clock time after the start."""
        moment = self.moment(clock)
        return moment if moment > self.start else moment + dt.timedelta(days=1)

    def decision(self, given: dict[str, Any]) -> Decision:
        """A coordinator's decision from its table: ``as``, ``from``, ``to``."""
        kind = str(given.get("as", ""))
        if kind not in ("closed", "deadline", "watch", "ignore"):
            raise InputError(f"move.toml: decision 'as' must be closed, deadline, watch or ignore, got {kind!r}.")
        starts, ends = parse_moment(given.get("from"), self.start), parse_moment(given.get("to"), self.start)
        return Decision(kind=kind, starts=starts, ends=ends)  # type: ignore[arg-type]


def read_settings(path: Path) -> tuple[MoveSettings, list[RowProblem]]:
    """Read ``move.toml``; what is wrong is listed, with the defaults in its place, so that the rest of the folder is still checked.

    Raises
    ------
    InputError
        If the file is missing, is not TOML, or has no usable ``start``: without a start no clock time means anything.
    """
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise InputError(f"{path}: can't be read ({error.strerror or error}). A move is a folder with a move.toml in it.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not TOML ({error}). Correct the line named.") from error
    given = {**given.pop("move", {}), **given}
    given["start"] = _start(given.pop("start", None), given.pop("timezone", None), path)
    try:
        return MoveSettings.model_validate(given), []
    except ValidationError as error:
        problems = []
        for item in error.errors(include_url=False):
            where = ".".join(str(p) for p in item["loc"])
            message = _unknown_name(item["loc"]) if item["type"] == "extra_forbidden" else str(item["msg"])
            value = "a section" if isinstance(item["input"], dict) else str(item["input"])
            problems.append(RowProblem(file=path.name, row=0, column=where, value=value, message=message))
            _drop(given, item["loc"])
        return MoveSettings.model_validate(given), problems


def _unknown_name(loc: tuple[int | str, ...]) -> str:
    """What a name that no section has may have meant."""
    section: Any = MoveSettings
    for key in loc[:-1]:
        section = section.model_fields[key].annotation if isinstance(key, str) and hasattr(section, "model_fields") else None
    known = list(getattr(section, "model_fields", {}))
    near = difflib.get_close_matches(str(loc[-1]), known, n=1)
    hint = f" Did you mean {near[0]}?" if near else f" Known here: {', '.join(known)}." if known else ""
    return f"unknown name, so it changes nothing.{hint}"


def _start(value: Any, timezone: str | None, path: Path) -> dt.datetime:
    if value is None:
        raise InputError(f"{path}: start is missing. Give start = 2026-03-01T18:40:00+01:00 at its top.")
    try:
        start = value if isinstance(value, dt.datetime) else dt.datetime.fromisoformat(str(value))
        zone = ZoneInfo(timezone) if timezone else None
    except (ValueError, ZoneInfoNotFoundError) as error:
        raise InputError(f"{path}: start {value!r}: {error}. Give start = 2026-03-01T18:40:00+01:00.") from error
    if start.tzinfo is None and zone is None:
        raise InputError(f'{path}: start {value!r} has no time zone. Give 2026-03-01T18:40:00+01:00, or timezone = "Europe/Paris".')
    return _by_one_clock(start, zone, path) if start.tzinfo is None and zone is not None else start


def _by_one_clock(start: dt.datetime, zone: ZoneInfo, path: Path) -> dt.datetime:
    """``start`` in ``zone``. Over a change of the clocks a closing would be read an hour late or early, so that is refused."""
    start = start.replace(tzinfo=zone)
    hours = range(-HOURS_BEFORE, HOURS_AFTER + 1)
    if len({(start + dt.timedelta(hours=h)).utcoffset() for h in hours}) > 1:
        raise InputError(
            f"{path}: the clocks of {zone} change within {HOURS_AFTER} h of the start, {start:%Y-%m-%d %H:%M}. "
            f"Give start = {start.isoformat()}: all times are then by that clock, also after the change."
        )
    return start


def _drop(given: Any, loc: tuple[int | str, ...]) -> None:
    """Take the value at ``loc`` out, so that its default stands in for it."""
    for key in loc[:-1]:
        given = given.get(key, {}) if isinstance(given, dict) else {}
    if isinstance(given, dict):
        given.pop(loc[-1], None)
