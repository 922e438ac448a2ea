"""Words: every sentence that people read, in their language, units and clock."""

from rollroute.output.words.catalogue import LANGUAGES as LANGUAGES
from rollroute.output.words.catalogue import mark as mark
from rollroute.output.words.words import Words as Words
