"""The parts that draw Quillhaven, an invented river town (see ``make_town.py``)."""
