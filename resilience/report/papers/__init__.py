"""Papers that are handed over with a layout, as pages to be printed and as tables.

Order of reading: ``paper`` (one paper as a value), ``mounting`` (what to buy and where to hang it),
``surveying`` (which links to measure, in walking order, and what to expect), ``promising`` (what is
promised, on what it hangs, when cells go), ``switching`` (what happens when a device is switched
off, to be tried on site), ``whole`` (all of them). What is to be written in stands empty.
"""
