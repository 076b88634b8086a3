"""What ``report`` shows of a site: everything that was found, as chapters of a document.

Order of reading: ``facts`` (what was found), ``conclusion`` (in plain words), ``order`` (layouts
beside each other), ``onsite`` (what to check before anything is hung), ``drawn`` (a layout as
pictures of the building), ``within`` (what happens in it), ``grounds`` (what all of it rests on),
``whole`` (the chapters in order).
"""
