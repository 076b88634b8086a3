"""How a command ends, for scripts; 0 is done."""

BROKEN = 1
BAD_INPUT = 2
UNDECIDED = 3
SOME_FAILED = 4
INTERRUPTED = 130
