"""From facts to verdicts: cases laid out, checks run, what was kept of them, and what to do first."""
