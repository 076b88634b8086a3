"""How a command ends, for scripts; 0 is done."""

BAD_INPUT = 2
INTERRUPTED = 130
