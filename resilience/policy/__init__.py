"""Whether a promise is kept, how surely, what breaks it, and what could be promised instead.

Order of reading: ``bounds`` (how often each promise of a grid is broken, at least and at most),
``frontier`` (the strictest promises), ``breaking`` (what breaks one), ``judgement`` (what is said
of each layout), ``rare`` (splitting, for what is too rare), ``cautions`` (what a lead should know
before signing), ``judging`` (lifetimes played until every verdict is sure), ``proposing`` (the
strictest promise with some reserve).
"""
