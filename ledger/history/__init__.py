"""What changed, and how it was."""
