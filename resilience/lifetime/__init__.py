"""What happens in one lifetime.

Order of reading: ``record`` (what a lifetime leaves), ``tally`` (what lifetimes add up to),
``mesh`` (what a lifetime is played on), ``pruning`` (what need not be played), the room
``reference`` (the engine that is the specification), the rooms ``state`` and ``fast`` (the compiled
one), ``casting`` (values to its worlds and back), ``branching`` (lifetimes stopped, copied and
continued), ``engines`` (all behind one door), ``playing`` (a layout made ready), ``picking``
(which lifetime stands for many), ``tracing`` (one to be told).
"""
