"""One possible building behind the predicted links: the luck that nobody knows before a survey.

Order of reading: ``strengths`` (what a building adds to every strength, as plain arithmetic),
``prospect`` (the links of a layout made ready to be drawn), ``spreads`` (how far buildings differ),
``buildings`` (many drawn at once), ``routes`` (who has a way to a gateway in them).
"""
