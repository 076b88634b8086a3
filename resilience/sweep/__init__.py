"""A whole portfolio of sites: found, checked, played by many processes, scored and kept.

Order of reading: ``finding`` (which sites there are, and whether they are sound), ``scoring`` (what
its lifetimes say), ``orders`` (what a process is asked to play and answers), ``crew`` (the
processes), ``course`` (what is still to be played of a site), ``running`` (all sites, until
everything is played or time is up), ``kept`` (what a run leaves in its folder), ``inventing``
(portfolios of invented sites).
"""
