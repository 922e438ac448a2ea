"""The printed sheet: blocks of content, small maps, and the page that carries them."""

from rollroute.output.sheet.carer import write_carer_card as write_carer_card
from rollroute.output.sheet.move import StopSheet as StopSheet
from rollroute.output.sheet.move import VanSheet as VanSheet
from rollroute.output.sheet.move import VanStop as VanStop
from rollroute.output.sheet.move import write_stop_sheet as write_stop_sheet
from rollroute.output.sheet.move import write_van_sheet as write_van_sheet
from rollroute.output.sheet.sheet import write_sheet as write_sheet
