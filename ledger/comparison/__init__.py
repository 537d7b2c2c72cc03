"""Verbs that need no job: what one file holds, whether two hole patterns go together, and what is said beside it."""
