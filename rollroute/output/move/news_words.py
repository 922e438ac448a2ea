"""The planner's sentences about news, failures and things to take, as patterns for ``planner_words.tell``.

A field called after a moment (``time``, ``start`` ...) takes a clock time only; ``doing``, ``before`` and every field of ``DOINGS`` take no
semicolon, which stands between two doings: so no name is taken for a sentence.
The first pattern that fits the whole text is told.
"""

from __future__ import annotations

from rollroute.output.words.catalogue import mark

THINGS = (
    mark("chair with headrest, footrests, cushion and joystick cover"),
    mark("charger: built into the chair, check its cable"),
    mark("charger and its cable"),
    mark("charger: the shelter has one that fits"),
    mark("charger: missing, look once more"),
    mark("charger and its cable, wherever it is"),
    mark("sling, if one is used to get into the chair"),
    mark("sling and whatever lifts them"),
    mark("the bag that stays within reach, with its chargers and batteries"),
    mark("box with the daily things and papers"),
    mark("phone and its charger"),
    mark("tie-down straps or loops that belong to the chair"),
    mark("keys"),
)
STUCK = (
    mark("is at {shelter} since {time}, which can't keep them as things are now: give {shelter} as their place and plan on from there"),
    mark(
        "is on the way to {shelter} since {time} and can't go in there as things are now: reach them by phone, give the place where they "
        "are, and plan on from there"
    ),
    mark(
        "is aboard {van} since {time} and no shelter can take them in time as things are now: reach the driver, give the place where the "
        "van is, and plan on from there"
    ),
)
FAILURES = (
    mark("{n} min at least, {limit} min is the limit"),
    mark("no other van can take them ({why})"),
    mark("no other van can take them"),
    mark("no other van or way has time and room before {time}"),
    mark("no other van or way has time and room"),
    mark("gives way to somebody more urgent"),
    mark("road to {place}"),
    mark("power at {shelter}"),
)
BECAUSE = (
    mark("{what}, because {why}"),
    mark("{shelter} is no longer among the shelters"),
    mark("{shelter} can't be used ({why})"),
    mark("{shelter} can't be used"),
    mark("the time they were told has passed"),
    mark("no way that is left is in time"),
    mark("rolling to {shelter} is no longer possible"),
    mark("{who} can't walk along any more"),
    mark("{van} is no longer there"),
    mark("{van} can't take {rider} any more"),
    mark("{van} can't get there any more"),
    mark("{van} has to end at {time}"),
    mark("{van} can't start before {time}"),
    mark("{van} can't be there before {time}"),
    mark("{riders} can be served this way"),
    mark("others had to change who share vans, escorts or places with them"),
)
CHANGES = (
    mark("{rider} is no longer in the move"),
    mark("{rider} is new: {doing}"),
    mark("{name}: drives as before up to: {last}; then {later} (was: {earlier})"),
    mark("{name}: walks as before up to: {last}; then {later} (was: {earlier})"),
    mark("{name}: outlets as before up to: {last}; then {later} (was: {earlier})"),
    mark("{name}: now {later} (was: {earlier})"),
    mark("{rider} now {details}"),
    mark("leaves at {time} instead of {end}"),
    mark("is aboard at {time} instead of {end}"),
    mark("is unloaded from {time} instead of {end}"),
    mark("is inside at {time} instead of {end}"),
    mark("is fetched at {place} instead of {before}"),
    mark("is set down at {place} instead of {before}"),
    mark("is walked with by {riders} instead of {before}"),
    mark("goes together with {riders} instead of {before}"),
    mark("turns back, if need be, to {place} instead of {before}"),
    mark("{doing} instead of {before}"),
)
DOINGS = (
    mark("stays by own decision"),
    mark("staying by own decision"),
    mark("has no way yet"),
    mark("having no way yet"),
    mark("nothing"),
    mark("nobody"),
    mark("{doing} (undecided)"),
    mark("{doing} (planned)"),
    mark("rolls to {shelter} at {time}"),
    mark("rolls at {time}"),
    mark("rolling to {shelter} at {time}"),
    mark("rolling at {time}"),
    mark("rides with {van}, chair apart, to {shelter} at {time}"),
    mark("rides with {van}, chair apart, at {time}"),
    mark("rides with {van} to {shelter} at {time}"),
    mark("rides with {van} at {time}"),
    mark("riding with {van} to {shelter} at {time}"),
    mark("riding with {van} at {time}"),
    mark("loads {riders} at {place} {start}-{end} (there {time})"),
    mark("loads {riders} at {place} {start}-{end}"),
    mark("unloads {riders} at {place} {start}-{end} (there {time})"),
    mark("unloads {riders} at {place} {start}-{end}"),
    mark("walks with {riders}, leaves {leave}, meets {meet}, until {end}, back {back}"),
    mark("walks to the van with {riders}, leaves {leave}, meets {meet}, until {end}, back {back}"),
    mark("carries down {riders}, leaves {leave}, meets {meet}, until {end}, back {back}"),
    mark("{rider} at outlet {outlet} {start}-{end} (held)"),
    mark("{rider} at outlet {outlet} {start}-{end}"),
    mark("{van} to {shelter} at {time}"),
    mark("{van} at {time}"),
    mark("{van} can load them at {time}"),
    mark("can roll instead"),
)
PLACES = (
    mark("service road, by {house}"),
    mark("service road, by number {number}"),
    mark("{street}, by number {number}"),
    mark("{street}, by {house}"),
    mark("{what} near {position}"),
)
NEWS = (*PLACES, *THINGS, *STUCK, *FAILURES, *BECAUSE, *CHANGES, *DOINGS)
