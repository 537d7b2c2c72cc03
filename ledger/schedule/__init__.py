"""When what must be done: working days, and the critical path through what waits on what."""
